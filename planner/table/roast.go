package table

import (
	"fmt"

	"flitchbook/planner/unit"
)

// Roast is a joint for the dinner and what it loses.
type Roast struct {
	Name    string
	Species string     // as the shop's class kinds name it
	Loss    unit.Ratio // of the trimmed raw weight, in the oven and at rest
	Trim    unit.Ratio // what is left of the bought weight after trimming
	Basis   string     // what the loss rests on
	Cut     string     // the cut it comes from, as yield profiles name it; "" when none is named
	OfCut   unit.Ratio // what of that cut it is
}

// Roasts lists the joints the kitchen reckons with.
//
// Losses: "Experimental Cookery" (textbook), table of average losses: pork loin 26.3 %,
// leg of lamb 28.0 %, prime rib medium 21.7 %, ham 25.6 %, veal leg 29.0 %. The pork
// loin's is the mean of nine roasts' losses, not the loss of the nine together (24.4 %):
// the larger of the two is kept, so that nobody goes short. Deer is not in that table;
// it gets the largest loss printed there. Trims: boneless cuts are bought trimmed, a leg
// of lamb keeps 80 %, a ham 85 % (common practice). What of its cut a roast is: boneless
// loin 10.7 of a 33.8 lb loin (National Pork Producers Council, hog carcass breakdown),
// oven-ready rib 22 of 38 lb 12 oz (textbook cutting test). They are places to start:
// weigh your own.
func Roasts() []Roast {
	tenths := func(n int64) unit.Ratio { return unit.Ratio(n) * unit.Percent / 10 }
	return []Roast{
		{"boneless pork loin", "pork", tenths(263), unit.One, "printed mean of the losses of nine roasts", "loin", tenths(317)},
		{"fresh ham, roasted", "pork", tenths(256), tenths(850), "printed average of roasted ham", "ham", unit.One},
		{"leg of lamb", "lamb", tenths(280), tenths(800), "printed average; a fifth is trimmed off", "legs", unit.One},
		{"boneless rib of beef, medium", "beef", tenths(217), unit.One, "printed average of prime rib", "rib", tenths(568)},
		{"boneless leg of deer", "deer", tenths(290), unit.One, "no figure of its own: the largest printed loss, of veal leg, stands in", "", 0},
	}
}

// RoastsFor lists the roasts of a species, its own first and the others after: a dinner may
// be of another animal than the class. A class of no species takes any.
func RoastsFor(species string) []Roast {
	var own, others []Roast
	for _, r := range Roasts() {
		if r.Species == species {
			own = append(own, r)
		} else {
			others = append(others, r)
		}
	}
	return append(own, others...)
}

// RoastFor is the roast for a class of a species; false when the dinner is no roast.
func RoastFor(species string) (Roast, bool) {
	for _, r := range Roasts() {
		if r.Species == species {
			return r, true
		}
	}
	return Roast{}, false
}

// Bounds of what may be asked: above them somebody has mistyped.
const (
	mostGuests  = 1000
	mostPortion = 5 * unit.Pound
	mostLoss    = 60 * unit.Percent
	leastTrim   = 20 * unit.Percent
)

// Raw is the raw meat to buy for so many guests at so much cooked meat each:
//
//	raw = guests × cooked ÷ (1 − loss) ÷ trim
//
// rounded half up to a nanogram once, at the end. No guests need no meat.
func Raw(guests int, cooked unit.Weight, loss, trim unit.Ratio) (unit.Weight, error) {
	var f unit.Faults
	if guests < 0 || guests > mostGuests {
		f.Add("guests", fmt.Sprintf("the guests must lie between 0 and %d", mostGuests))
	}
	if cooked <= 0 || cooked > mostPortion {
		f.Add("cooked", "a portion must be above 0 and at most "+mostPortion.LB())
	}
	if loss < 0 || loss > mostLoss {
		f.Add("loss", "the cooking loss must lie between 0 % and "+mostLoss.String())
	}
	if trim < leastTrim || trim > unit.One {
		f.Add("trim", "what trimming leaves must lie between "+leastTrim.String()+" and 100 %")
	}
	if err := f.Err(); err != nil {
		return 0, err
	}
	whole := int64(unit.One) * int64(unit.One)
	return (cooked * unit.Weight(guests)).MulDiv(whole, int64(unit.One-loss)*int64(trim)), nil
}

// Loss is what meat lost between two weighings, as a share of the first.
func Loss(raw, cooked unit.Weight) (unit.Ratio, error) {
	if raw <= 0 || cooked <= 0 || cooked > raw {
		return 0, fmt.Errorf("cooked meat weighs more than nothing and no more than it did raw")
	}
	return (raw - cooked).RatioOf(raw), nil
}

// Purchase is the meat to buy for one table.
type Purchase struct {
	Roast
	Guests int
	Cooked unit.Weight // a head
	Raw    unit.Weight
	AHead  unit.Weight // raw, a head
}

// Buy reckons a purchase of a roast.
func (r Roast) Buy(guests int, cooked unit.Weight) (Purchase, error) {
	raw, err := Raw(guests, cooked, r.Loss, r.Trim)
	if err != nil {
		return Purchase{}, err
	}
	one, err := Raw(1, cooked, r.Loss, r.Trim)
	return Purchase{Roast: r, Guests: guests, Cooked: cooked, Raw: raw, AHead: one}, err
}
