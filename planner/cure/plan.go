package cure

import (
	"fmt"
	"math"

	"flitchbook/planner/unit"
)

// The rule of thumb for a dry-cured belly: 7 days an inch, and 2 to even out.
// Source: a salt maker's home-curing guide, as quoted.
const (
	DaysPerInch = 7.0
	EvenOutDays = 2.0
	LeastDays   = 10   // a proposed least for any slab
	CoreLevel   = 0.95 // salt at the centre, of what it evens out to
)

// ThumbDays is the rule of thumb without the days to even out.
func ThumbDays(thicknessMM float64) float64 { return DaysPerInch * thicknessMM / MMPerInch }

// PoundDays is a cure by weight, such as 1.5 days a pound for a dry-cured ham (US
// patent on low-salt country ham, claim 1) or 3.5 to 4 for one in pickle ("Pork
// Slaughtering, Cutting, Preserving, and Cooking on the Farm", p. 50).
func PoundDays(w unit.Weight, perPound float64) float64 { return w.Pounds() * perPound }

// WholeDays is days up to whole days.
func WholeDays(days float64) int { return int(math.Ceil(days - 1e-9)) }

// A Plan is how long a slab is proposed to lie, with its reasons.
type Plan struct {
	Days    int
	Thumb   float64 // 7 days an inch + 2
	Salt    float64 // days to CoreLevel at the centre, finite dose, SaltSlow
	Reasons []string
}

// DefaultPlan proposes the days for a slab by its thickest point: the larger of the
// rule of thumb and the salt model, whole days, at least 10. A skin-on slab takes
// salt from one face only and is warned about. The shop's own rule decides the
// earliest day it is taken out.
func DefaultPlan(thicknessMM float64, skinOn bool) (Plan, error) {
	if !(thicknessMM > 0 && thicknessMM <= 500) {
		return Plan{}, refuse("a slab cannot be %.1f mm thick", thicknessMM)
	}
	p := Plan{
		Thumb: ThumbDays(thicknessMM) + EvenOutDays,
		Salt:  Days(FoFor(FiniteCentre, CoreLevel), Path(thicknessMM, skinOn), SaltSlow),
	}
	p.Days = max(WholeDays(max(p.Thumb, p.Salt)), LeastDays)
	p.Reasons = []string{
		fmt.Sprintf("rule of thumb: 7 days an inch and 2 to even out, %.2f days for %.2f in", p.Thumb, thicknessMM/MMPerInch),
		fmt.Sprintf("%s: %.2f days until the centre has 95 %% of its salt", SaltModel, p.Salt),
		fmt.Sprintf("never under %d days", LeastDays),
	}
	if skinOn {
		p.Reasons = append(p.Reasons, "skin on: salt comes in from one face only, so the model's way is twice as long")
	}
	return p, nil
}
