package files

import (
	"slices"
	"strings"
)

// otherWords is the table of what builders also say: on the left, in lower case with underscores, what
// was written; on the right what these files call it. A word may have several meanings; the one that
// is allowed at its place is offered.
var otherWords = map[string][]string{
	"scrub_radius": {"kingpin_offset"}, "scrub": {"kingpin_offset"}, "steering_offset": {"kingpin_offset"},
	"sai": {"kingpin_inclination"}, "kpi": {"kingpin_inclination"}, "steering_axis_inclination": {"kingpin_inclination"}, "kingpin_angle": {"kingpin_inclination"},
	"castor": {"caster"}, "castor_trail": {"caster_trail"}, "mechanical_trail": {"caster_trail"}, "trail": {"caster_trail"},
	"motion_ratio": {"installation_ratio"}, "leverage_ratio": {"installation_ratio"}, "progressivity": {"progression"},
	"spindle_length": {"hub_offset"}, "kingpin_offset_at_hub": {"hub_offset"}, "roll_center_height": {"roll_centre_height"}, "roll_center": {"roll_centre_height"},
	"roll_centre": {"roll_centre_height"}, "rc_height": {"roll_centre_height"}, "roll_center_lateral": {"roll_centre_lateral"},
	"camber_angle": {"camber"}, "toe_angle": {"toe"}, "toe_in": {"toe"}, "toe_out": {"toe"}, "caster_angle": {"caster"}, "castor_angle": {"caster"},
	"steer": {"steer_angle"}, "steering_angle": {"steer_angle"}, "road_wheel_angle": {"steer_angle"}, "toe_change": {"bump_steer", "toe"},
	"ride_steer": {"bump_steer"}, "camber_change": {"camber_gain"}, "camber_rate": {"camber_gain"}, "swing_arm": {"front_view_swing_arm"},
	"fvsa": {"front_view_swing_arm"}, "svsa": {"side_view_swing_arm"}, "track_change": {"half_track_change"}, "wheelbase_change": {"contact_x_change"},
	"stroke": {"length", "travel"}, "rack_displacement": {"rack_travel"}, "steering_travel": {"rack_travel"},
	"shock": {"damper"}, "shock_absorber": {"damper"}, "coilover": {"damper"}, "coil_over": {"damper"}, "shocks": {"damper"}, "coil": {"spring"},
	"a_arm": {"arm"}, "aarm": {"arm"}, "wishbone": {"arm"}, "control_arm": {"arm"}, "v_arm": {"arm"},
	"bellcrank": {"rocker"}, "bell_crank": {"rocker"}, "crank": {"rocker"},
	"rod": {"link"}, "bar": {"link", "torsion_bar"}, "panhard": {"link"}, "panhard_rod": {"link"}, "panhard_bar": {"link"}, "track_bar": {"link"}, "drop_link": {"link"}, "radius_rod": {"link"}, "radius_arm": {"link"}, "lateral_link": {"link"}, "drag_link": {"link"},
	"trailing_arm": {"hinge"}, "semi_trailing_arm": {"hinge"}, "watt": {"rocker"}, "watts": {"rocker"}, "watt_link": {"rocker"}, "watts_link": {"rocker"}, "watt_linkage": {"rocker"}, "watts_linkage": {"rocker"},
	"sway_bar": {"torsion_bar"}, "swaybar": {"torsion_bar"}, "anti_roll_bar": {"torsion_bar"}, "antiroll_bar": {"torsion_bar"}, "anti_sway_bar": {"torsion_bar"}, "roll_bar": {"torsion_bar"}, "arb": {"torsion_bar"}, "stabilizer": {"torsion_bar"}, "stabiliser": {"torsion_bar"}, "stabilizer_bar": {"torsion_bar"}, "stabiliser_bar": {"torsion_bar"},
	"half_shaft": {"shaft"}, "halfshaft": {"shaft"}, "drive_shaft": {"shaft"}, "driveshaft": {"shaft"}, "cv": {"shaft"}, "cv_shaft": {"shaft"}, "cv_axle": {"shaft"}, "axle_shaft": {"shaft"},
	"limit_strap": {"distance"}, "strap": {"distance"}, "check_strap": {"distance"}, "droop_strap": {"distance"}, "cable": {"distance"},
	"mcpherson": {"strut"}, "macpherson": {"strut"}, "mcpherson_strut": {"strut"}, "macpherson_strut": {"strut"}, "leg": {"strut"}, "harm": {"h_arm"}, "h_link": {"h_arm"},
	"live_axle": {"axle"}, "solid_axle": {"axle"}, "rigid_axle": {"axle"}, "beam": {"axle"}, "beam_axle": {"axle"}, "de_dion": {"axle"}, "dead_axle": {"axle"}, "king_pin": {"kingpin"}, "swivel_pin": {"kingpin"},
	"yoke": {"upright"}, "swivel_hub": {"upright"}, "center_arm": {"centre_arm"}, "mid_arm": {"centre_arm"}, "right_points": {"opposite"}, "left_points": {"opposite"}, "other_side": {"opposite"}, "asymmetric": {"opposite"}, "asymmetry": {"opposite"}, "cross": {"across"}, "crossing": {"across"}, "both_sides": {"across"},
	"cg": {"centre_of_gravity"}, "cog": {"centre_of_gravity"}, "cg_height": {"centre_of_gravity"}, "cog_height": {"centre_of_gravity"}, "centre_of_gravity_height": {"centre_of_gravity"}, "center_of_gravity": {"centre_of_gravity"}, "center_of_gravity_height": {"centre_of_gravity"},
	"brake_balance": {"brake_share"}, "brake_bias": {"brake_share"}, "brake_split": {"brake_share"}, "drive_split": {"drive_share"}, "torque_split": {"drive_share"}, "diff": {"differential"}, "final_drive": {"differential"},
	"one_wheel": {"wheels"}, "one_wheel_travel": {"wheels"}, "single_wheel": {"wheels"}, "roll": {"body_roll"}, "roll_angle": {"body_roll"}, "lean": {"body_roll"}, "heel": {"body_roll"},
	"plunge_travel": {"plunge"}, "cv_angle": {"joint_angle_outer", "joint_angle_inner"}, "joint_angle": {"joint_angle_outer", "joint_angle_inner"}, "bushing_strain": {"bind"}, "antidive": {"anti_dive"}, "antisquat": {"anti_squat"}, "antilift": {"anti_lift_brake", "anti_lift_drive"}, "anti_lift": {"anti_lift_brake", "anti_lift_drive"}, "toe_link": {"link", "tie_rod"}, "track_rod": {"link", "tie_rod"}, "tierod": {"tie_rod", "link"}, "tie_rod": {"link"}, "pushrod": {"link"}, "pullrod": {"link"},
	"heim": {"rod_end"}, "heim_joint": {"rod_end"}, "rose_joint": {"rod_end"}, "rosejoint": {"rod_end"},
	"knuckle": {"upright"}, "spindle": {"upright"}, "hub_carrier": {"upright"}, "hub": {"upright"}, "wheel_carrier": {"upright"}, "carrier": {"upright"}, "stub_axle": {"upright"},
	"chassis": {"frame"}, "body": {"frame"}, "tub": {"frame"}, "subframe": {"frame"}, "car": {"frame"}, "steering_rack": {"rack"},
	"center": {"centre"}, "wheel_center": {"centre"}, "balljoint": {"ball"}, "ball_joint": {"ball"}, "outer": {"ball"},
	"tyre_radius": {"loaded_radius"}, "tire_radius": {"loaded_radius"}, "radius": {"loaded_radius"}, "rolling_radius": {"loaded_radius"}, "wheel_radius": {"loaded_radius"},
	"jounce": {"bump", "wheel_travel"}, "compression": {"bump", "wheel_travel"}, "rebound": {"droop"}, "extension": {"droop"}, "steering": {"rack"},
	"bump_travel": {"wheel_travel"}, "travel": {"wheel_travel"}, "wheel": {"wheel_travel"}, "heave": {"wheel_travel"}, "rack": {"rack_travel"},
	"hardpoints": {"points"}, "pickup_points": {"points"}, "pickups": {"points"}, "coordinates": {"points"}, "parts": {"members"}, "links": {"members"},
	"clash": {"clearances", "clearance"}, "clashes": {"clearances"}, "collision": {"clearances", "clearance"}, "collisions": {"clearances"}, "interference": {"clearances", "clearance"}, "interferences": {"clearances"},
	"gap": {"clearances", "clearance", "min"}, "gaps": {"clearances"}, "distance_between": {"clearance", "between"}, "pair": {"between"}, "pairs": {"clearances"}, "contact": {"clearances"},
	"keep_out": {"solids"}, "keepout": {"solids"}, "keep_outs": {"solids"}, "obstacle": {"solids"}, "obstacles": {"solids"}, "bodies": {"solids"}, "shapes": {"solids"}, "envelope": {"solids", "tube"}, "envelopes": {"solids"}, "boxes": {"solids"}, "tubes": {"solids"}, "group": {"groups"}, "sets": {"groups"},
	"pipe": {"tube"}, "capsule": {"tube"}, "polyline": {"tube"}, "sphere": {"ball"}, "cuboid": {"box"}, "block": {"box"}, "cube": {"box"}, "disc": {"cylinder"}, "disk": {"cylinder"}, "drum": {"cylinder"},
	"od": {"diameter"}, "outside_diameter": {"diameter"}, "outer_diameter": {"diameter"}, "dia": {"diameter"}, "bore": {"hole", "housing_axis", "housing"}, "inside_diameter": {"hole"}, "id": {"hole"}, "inner_diameter": {"hole"}, "body_length": {"length"}, "shaft_diameter": {"rod"}, "rod_diameter": {"rod"}, "body_diameter": {"diameter"}, "attached_to": {"on"}, "single": {"once"}, "one_sided": {"once"},
	"tire": {"tyre"}, "tires": {"tyre"}, "tyres": {"tyre"}, "barrel": {"rim"}, "shoulder": {"round"}, "shoulder_radius": {"round"}, "edge_radius": {"round"}, "barrel_wall": {"wall"}, "thickness": {"wall"}, "section_width": {"width"},
	"bearings": {"joints"}, "rod_ends": {"joints"}, "heims": {"joints"}, "ball_joints": {"joints"}, "spherical_bearing": {"spherical"}, "spherical_joint": {"spherical"}, "axial_joint": {"spherical"}, "uniball": {"spherical"}, "rod_end_bearing": {"rod_end"}, "rodend": {"rod_end"}, "stud": {"bolt"}, "pin": {"bolt"}, "stud_axis": {"bolt_axis"}, "pin_axis": {"bolt_axis"}, "bore_axis": {"housing_axis"}, "hole_axis": {"housing_axis"},
	"misalignment": {"tilt"}, "misalignment_angle": {"tilt"}, "articulation": {"tilt", "angle"}, "swivel": {"tilt"}, "swivel_angle": {"tilt"}, "tilt_angle": {"tilt"}, "max_angle": {"angle", "tilt"}, "max_tilt": {"tilt"},
	"bump_stop": {"stop", "stop_crush"}, "bumpstop": {"stop", "stop_crush"}, "bump_rubber": {"stop", "stop_crush"}, "snubber": {"stop"}, "stop": {"stop_crush"}, "crush": {"stop_crush"}, "coil_bind": {"solid", "solid_left"}, "coilbind": {"solid", "solid_left"}, "bind_length": {"solid"}, "block_length": {"solid"}, "solid_length": {"solid"}, "solid_height": {"solid"}, "closed": {"min"}, "closed_length": {"min"}, "compressed": {"min"}, "compressed_length": {"min"}, "open": {"max"}, "open_length": {"max"}, "extended": {"max"}, "extended_length": {"max"}, "rack_stroke": {"travel"}, "lock": {"travel"},
	"unit": {"units"}, "title": {"name", "study"}, "name": {"study"}, "version": {"format"}, "goals": {"targets"}, "objectives": {"targets"}, "target": {"targets"}, "limit": {"limits"},
	"constraints": {"limits"}, "bounds": {"limits", "vary"}, "variables": {"vary"}, "parameters": {"vary"}, "motion": {"motions"}, "random_seed": {"seed"}, "stage": {"stages"},
	"tolerance": {"within"}, "weighting": {"weight"}, "count": {"positions", "runs"}, "steps": {"positions", "step"}, "points": {"positions", "table"}, "samples": {"runs"}, "evaluations": {"runs"}, "file": {"table"}, "n": {"runs"},
	"min": {"from", "at_least"}, "max": {"to", "at_most"}, "lower": {"from", "min"}, "upper": {"to", "max"}, "minimum": {"min", "from", "at_least"}, "maximum": {"max", "to", "at_most"},
	"plus_minus": {"by"}, "range": {"by", "spread"}, "increment": {"step"}, "target_value": {"value"}, "constant": {"hold"}, "linear": {"straight"}, "flat": {"even"}, "curve": {"follow"}, "where": {"place"}, "at": {"place"}, "motion_name": {"in"},
	"millimetre": {"mm"}, "millimetres": {"mm"}, "millimeter": {"mm"}, "millimeters": {"mm"}, "inch": {"in"}, "inches": {"in"}, "imperial": {"in"}, "metric": {"mm"},
	"front": {"forward"}, "fore": {"forward"}, "forwards": {"forward"}, "back": {"rearward"}, "aft": {"rearward"}, "rear": {"rearward"}, "backward": {"rearward"}, "backwards": {"rearward"}, "port": {"left"}, "starboard": {"right"}, "upward": {"up"}, "upwards": {"up"}, "downward": {"down"}, "top": {"up"},
	"lh": {"left"}, "rh": {"right"}, "l": {"left"}, "r": {"right"}, "de": {"differential-evolution"}, "cma": {"cma-es"}, "cmaes": {"cma-es"}, "lhs": {"latin-hypercube"}, "latin": {"latin-hypercube"}, "grid": {"factorial"}, "oat": {"one-at-a-time"}, "monte_carlo": {"random"}, "table": {"points"}, "csv": {"points"},
	"improved": {"improving"}, "best": {"improving", "best 100"}, "off": {"none"}, "no": {"none"}, "yes": {"all"}, "hours": {"time"}, "duration": {"time"}, "size": {"disk"},
}

// differs says, for words of the table that mean not quite the same, what the right one means. It goes on
// from `write WORD, `.
var differs = map[string]string{
	"motion_ratio":   "which is damper shortening per wheel travel; if yours is wheel over damper, write its reciprocal",
	"leverage_ratio": "which is damper shortening per wheel travel; if yours is wheel over damper, write its reciprocal",
	"rolling_radius": "which is the height of the wheel's centre above the ground; a rolling radius, the way rolled in one turn over 2 pi, is longer by some millimetres",
}

// sideWords name a side of the car that is the left one in some cars and the right one in others.
var sideWords = []string{"driver", "driver_side", "drivers_side", "passenger", "passenger_side", "passengers_side", "nearside", "near_side", "offside", "off_side"}

// difference goes on from the offer of a word with what it means, where that is not quite what was written.
func difference(written string) string {
	if s := differs[plain(written)]; s != "" {
		return ", " + s
	}
	return ""
}

// near returns the allowed word that was probably meant: another word for it, else the nearest in
// spelling when it is near enough; "" when there is none.
func near(written string, allowed []string) string {
	w := plain(written)
	for _, word := range otherWords[w] {
		if slices.Contains(allowed, word) {
			return word
		}
	}
	best, least := "", 1+max(1, min(3, len([]rune(w))/3))
	if len(w) > 64 {
		return ""
	}
	for _, word := range allowed {
		if d := editDistance(w, plain(word)); d < least {
			best, least = word, d
		}
	}
	return best
}

// plain makes spellings comparable: lower case, and underscores for spaces and hyphens.
func plain(s string) string {
	return strings.NewReplacer(" ", "_", "-", "_", "'", "").Replace(strings.ToLower(strings.TrimSpace(s)))
}

// editDistance counts the letters to insert, delete, change or swap with their neighbour to turn a
// into b (optimal string alignment).
func editDistance(a, b string) int {
	s, t := []rune(a), []rune(b)
	before, last, row := make([]int, len(t)+1), make([]int, len(t)+1), make([]int, len(t)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(s); i++ {
		row[0] = i
		for j := 1; j <= len(t); j++ {
			cost := 1
			if s[i-1] == t[j-1] {
				cost = 0
			}
			row[j] = min(last[j]+1, row[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && s[i-1] == t[j-2] && s[i-2] == t[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last, row = last, row, before
	}
	return last[len(t)]
}

// offered is a word as a sentence offers it: in quotation marks where it might not be seen as one.
func offered(word string) string {
	last := word[max(0, len(word)-1):]
	if last == "" || strings.Trim(last, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789") != "" {
		return quoted(word)
	}
	return word
}

// list joins words for a sentence: a, b or c.
func list(words []string, last string) string {
	switch len(words) {
	case 0:
		return "nothing"
	case 1:
		return words[0]
	}
	return strings.Join(words[:len(words)-1], ", ") + " " + last + " " + words[len(words)-1]
}

// instead ends a sentence about an unknown word: with the right one, or with all that may stand there.
func instead(written string, allowed []string) string {
	if slices.Contains(sideWords, plain(written)) && slices.Contains(allowed, "left") && slices.Contains(allowed, "right") {
		return "write left or right, whichever side that is in this car"
	}
	if word := near(written, allowed); word != "" {
		return "write " + offered(word) + difference(written)
	}
	allowed = slices.Clone(allowed)
	for i := range allowed {
		allowed[i] = offered(allowed[i])
	}
	if len(allowed) == 0 {
		return "there is none to name"
	}
	const most = 9
	if len(allowed) > most {
		return "there are " + strings.Join(allowed[:most], ", ") + " and others"
	}
	return "write " + list(allowed, "or")
}
