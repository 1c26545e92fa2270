package studies

import "testing"

// TestNothingIsSaidAsNothing: what rounding leaves of 0, and a place that is 0 but for how finely it was found, are told as 0.
func TestNothingIsSaidAsNothing(t *testing.T) {
	f, err := ReadExample("twite")
	if err != nil {
		t.Fatal(err)
	}
	st, err := Bind(f)
	if err != nil {
		t.Fatal(err)
	}
	for x, want := range map[float64]string{4.5e-15: "0 deg", -4.5e-15: "0 deg", 1e-5: "1e-05 deg", -0.25: "-0.25 deg"} {
		if got := st.say(x, "deg"); got != want {
			t.Errorf("%g is told as %q; want %q", x, got, want)
		}
	}
	for x, want := range map[float64]float64{-0.0001386: 0, 79.33349: 79.333, -150: -150} {
		if got := thousandths(x); got != want {
			t.Errorf("%g mm is told as %g; want %g", x, got, want)
		}
	}
}
