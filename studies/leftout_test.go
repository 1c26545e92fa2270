package studies

import (
	"fmt"
	"strings"
	"testing"
)

// TestNothingLeftOfASolid: a tube that shares a point with the one that it is to be clear of, and is no longer than what is left out
// there, is remarked on where the clearance stands. By hand: tubes of 30 and 20 begin 50 mm from a point that they share, 100 mm are
// left out of one that shares both ends; a damper's body of 54 and a tube of 26 begin 80 mm from each other.
func TestNothingLeftOfASolid(t *testing.T) {
	geometry := func(strut, more string) string {
		g := strings.Replace(besideBox, "\nwheel:", "\n  damper: {damper: [damper_foot, damper_frame], ends: [lower_arm, frame], length: {min: 200, max: 400}, tube: {diameter: 54, length: 70, rod: 12, from: damper_foot}}\nwheel:", 1)
		g = strings.Replace(g, "ball: lower_ball}", "ball: lower_ball, tube: 30}", 1)
		g = strings.Replace(g, "points:\n", "points:\n  damper_foot: [30, 556, 152]\n  damper_frame: [26, 330, 400]\n  strut_end: "+strut+"\n", 1)
		g, _, _ = strings.Cut(g, "solids:")
		return g + "solids:\n  strut: {tube: [lower_front, strut_end], diameter: 20}\n  foot: {tube: [damper_foot, lower_ball], diameter: 26, on: lower_arm}\nclearances:\n" + more + "\n"
	}
	// lower_front is [165, 230, 142].
	for _, c := range []struct{ strut, clearance, says string }{
		{"[165, 180, 142]", "  c: {between: [lower_arm, strut], min: 2}", "c looks at nothing of 50.0 mm of strut beside lower_arm: both begin at lower_front, where 50.0 mm of it is left out (twice the sum of their radii), and it is no longer at design; write a smaller joint, such as joint: 25."},
		{"[165, 179, 142]", "  c: {between: [lower_arm, strut], min: 2}", ""},
		{"[165, 180, 142]", "  c: {between: [strut, lower_arm], min: 2, joint: 49}", ""},
		{"[165, 30, 142]", "  c: {between: [strut, lower_arm], min: 2, joint: 200}", "c looks at nothing of 200.0 mm of strut beside lower_arm: both begin at lower_front, where 200.0 mm of it is left out (as joint says), and it is no longer at design; write a smaller joint, such as joint: 100."},
		{"[165, 30, 142]", "  c: {between: [damper, foot], min: 2}", "c looks at nothing of 70.0 mm of damper beside foot: both begin at damper_foot, where 80.0 mm of it is left out (twice the sum of their radii), and it is no longer at design; write a smaller joint, such as joint: 35."},
		{"[165, 30, 142]", "  c: {between: [damper, strut], min: 2}", ""},
	} {
		g := geometry(c.strut, c.clearance)
		_, remarks := checked(t, geometryFrom(t, g))
		at, _, _ := strings.Cut(g, "  c: {between")
		want := fmt.Sprintf("geometry.yaml:%d:3: %s", 1+strings.Count(at, "\n"), c.says)
		if got := strings.Contains(remarks, "looks at nothing"); got != (c.says != "") || c.says != "" && !strings.Contains(remarks, want) {
			t.Errorf("%s %s: want %q in\n%s", c.strut, c.clearance, c.says, remarks)
		}
	}
}
