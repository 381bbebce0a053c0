package heat

import (
	"fmt"
	"time"

	"flitchbook/planner/unit"
)

// Outcome of a cooling rule.
type Outcome string

// The outcomes. A log that ends too warm is incomplete, never a pass; a doubtful one is
// for a person to look at, and no pass either.
const (
	Pass        Outcome = "pass"
	Doubtful    Outcome = "doubtful"
	Fail        Outcome = "fail"
	Incomplete  Outcome = "incomplete"
	NotEligible Outcome = "not eligible"
)

// A Band is a fall of the warmest point from one temperature to another within a time;
// Within 0 asks only that it gets there.
type Band struct {
	From, To unit.Temp
	Within   time.Duration
}

// A CoolingRule is bands that must all be kept, and what the product needs to be under
// it at all.
type CoolingRule struct {
	ID, Source string
	Bands      []Band
	Doubt      []Band        // slower than this is doubtful, though not against the rule
	Begin      time.Duration // cooling must begin within so long of the end of the heat; 0 = not said
	Unbroken   *Band         // the fall must never turn back in it, unless its upper part was quick
	LeastPPM   float64       // ingoing nitrite; 0 = any
	Brine      bool          // needs a salt or dryness hurdle (Cured.hurdle)
}

// Cured is what cured-slow and cured-20h ask of the product.
type Cured struct {
	PPM   float64 // ingoing nitrite
	Brine float64 // salt in the water of the lean, per cent
	Water float64 // water activity; 0 = not known
}

// hurdle is 3 CCR 910.15(b): at least 120 ppm and 3.5 % brine, or 40 ppm and 6 %, or a
// water activity of at most 0.92.
func (c Cured) hurdle() bool {
	return c.PPM >= 120 && c.Brine >= 3.5 || c.PPM >= 40 && c.Brine >= 6 || c.Water > 0 && c.Water <= 0.92
}

// CoolingRules lists the rule sets with their sources. Local code and the shop's
// written plan say which of them holds.
func CoolingRules() []CoolingRule {
	const h, deg = time.Hour, unit.Fahrenheit
	return []CoolingRule{
		{ID: "fast", Source: "FSIS Appendix B 1999 option 1, as quoted", Bands: []Band{{130 * deg, 80 * deg, 90 * time.Minute}, {80 * deg, 40 * deg, 5 * h}}},
		{ID: "old roast", Source: "FSIS Appendix B 1999 option 2, read on a state university's page", Begin: 90 * time.Minute,
			Bands: []Band{{120 * deg, 55 * deg, 6 * h}, {55 * deg, 40 * deg, 0}}, Doubt: []Band{{120 * deg, 80 * deg, h}}},
		{ID: "cured-slow", Source: "CFIA preventive control recommendations for cooling heat-processed meat, read; another page prints 40 °F for its 45 °F",
			Bands: []Band{{130 * deg, 80 * deg, 5 * h}, {80 * deg, 45 * deg, 10 * h}}, LeastPPM: 100},
		{ID: "cured-20h", Source: "3 CCR 910.15(b), read", Bands: []Band{{120 * deg, 40 * deg, 20 * h}}, Brine: true,
			Unbroken: &Band{120 * deg, 80 * deg, 2 * h}},
		{ID: "california", Source: "3 CCR 910.15(a), read", Bands: []Band{{135 * deg, 70 * deg, 2 * h}, {70 * deg, 41 * deg, 4 * h}}},
		{ID: "food code", Source: "Food Code 3-501.14, as quoted", Bands: []Band{{135 * deg, 70 * deg, 2 * h}, {135 * deg, 41 * deg, 6 * h}}},
	}
}

// A Judged band is the time a log spent falling through it.
type Judged struct {
	Band
	Took    time.Duration
	Reached bool // the log fell to the band's end
}

// A CoolingVerdict is what a log shows under one rule, with the reason.
type CoolingVerdict struct {
	Rule    string
	Outcome Outcome
	Bands   []Judged
	Why     string
}

// Cooling judges the log of the product's warmest point: from its last maximum, by
// straight lines between readings. A curve that peaks inside a band starts at its peak;
// a band lasts from the first fall below its top to the last below its end, however the
// log wavers; a time equal to the limit passes. The error is unit.Faults.
func Cooling(rule CoolingRule, points []Point, c Cured) (CoolingVerdict, error) {
	if err := fitLog(points, 1); err != nil {
		return CoolingVerdict{}, err
	}
	v := CoolingVerdict{Rule: rule.ID, Outcome: Pass}
	top := 0
	for i, p := range points {
		if p.Temp >= points[top].Temp {
			top = i
		}
	}
	fall := points[top:]
	v.Why = "every band was passed in time"
	for _, b := range rule.Bands {
		j := judged(b, fall)
		v.Bands = append(v.Bands, j)
		switch {
		case j.late():
			if v.Outcome != Fail {
				v.Outcome, v.Why = Fail, j.took()
			}
			if !j.Reached {
				v.Why += ", and the log ends warmer"
			}
		case !j.Reached && v.Outcome == Pass:
			v.Outcome, v.Why = Incomplete, fmt.Sprintf("the log ends at %s and must go on to %s", fall[len(fall)-1].Temp.Show(), b.To.Show())
		}
	}
	if v.Outcome == Pass {
		if why := rule.doubt(fall); why != "" {
			v.Outcome, v.Why = Doubtful, why
		}
	}
	// What the product is decides before how it cooled: a rule that does not hold for it
	// is never met by reading on.
	switch {
	case c.PPM < rule.LeastPPM:
		v.Outcome, v.Why = NotEligible, fmt.Sprintf("it needs %.0f ppm of ingoing nitrite and has %.1f", rule.LeastPPM, c.PPM)
	case rule.Brine && !c.hurdle():
		v.Outcome, v.Why = Fail, fmt.Sprintf("%.1f ppm and %.3f %% brine: it needs 120 ppm and 3.5 %%, or 40 ppm and 6 %%, or a water activity of at most 0.92", c.PPM, c.Brine)
	}
	return v, nil
}

// judged is how a falling log went through a band.
func judged(b Band, fall []Point) Judged {
	j := Judged{Band: b}
	last := fall[len(fall)-1]
	start, end := firstAt(fall, b.From), last.After
	if last.Temp <= b.To {
		end, j.Reached = lastAt(fall, b.To), true
	}
	j.Took = max(0, end-start)
	return j
}

func (j Judged) late() bool { return j.Within > 0 && j.Took > j.Within+time.Millisecond }

func (j Judged) took() string {
	return fmt.Sprintf("%s to %s took %s of at most %s", j.From.Show(), j.To.Show(), clock(j.Took.Round(time.Second)), clock(j.Within))
}

// doubt is what a person must look at in a log that kept its bands, or "". fall begins at
// the last maximum, which stands for the end of the heat.
func (r CoolingRule) doubt(fall []Point) string {
	for _, b := range r.Doubt {
		if j := judged(b, fall); j.late() {
			return j.took() + " without doubt"
		}
	}
	if r.Begin > 0 && len(r.Bands) > 0 {
		if j := judged(Band{fall[0].Temp, r.Bands[0].From, r.Begin}, fall); j.late() {
			return j.took() + " for chilling to begin after the heat"
		}
	}
	if b := r.Unbroken; b != nil && judged(*b, fall).late() {
		from, to := r.Bands[0].From, r.Bands[len(r.Bands)-1].To
		for i := 1; i < len(fall); i++ {
			if p, q := fall[i-1], fall[i]; q.Temp > p.Temp && q.Temp > to && p.Temp < from {
				return fmt.Sprintf("the fall turned back from %s to %s, and %s", p.Temp.Show(), q.Temp.Show(), judged(*b, fall).took())
			}
		}
	}
	return ""
}

// firstAt is when a log first fell to t: its start when it begins no warmer, its end
// when it never gets so low.
func firstAt(points []Point, t unit.Temp) time.Duration {
	for i := 1; i < len(points); i++ {
		if a, b := points[i-1], points[i]; points[0].Temp > t && a.Temp > t && b.Temp <= t {
			return crossing(a, b, t)
		}
	}
	if points[0].Temp <= t {
		return points[0].After
	}
	return points[len(points)-1].After
}

func crossing(a, b Point, t unit.Temp) time.Duration {
	return a.After + time.Duration(float64(b.After-a.After)*float64(a.Temp-t)/float64(a.Temp-b.Temp))
}

// lastAt is when a falling log was last at t: its start when it begins no warmer, its
// end when it never gets so low.
func lastAt(points []Point, t unit.Temp) time.Duration {
	for i := len(points) - 1; i > 0; i-- {
		a, b := points[i-1], points[i]
		if a.Temp > t && b.Temp <= t {
			return crossing(a, b, t)
		}
	}
	if points[0].Temp <= t {
		return points[0].After
	}
	return points[len(points)-1].After
}
