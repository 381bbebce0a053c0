package label

import (
	"fmt"

	"flitchbook/planner/unit"
)

// Name is what a cured belly ready for slicing may be called. It is "Bacon" only while it
// weighs no more than the fresh belly did (9 CFR 319.107).
func Name(green, ready unit.Weight) (name string, err error) {
	const other = "Cured and smoked pork belly"
	if green <= 0 || ready <= 0 {
		return other, fmt.Errorf("without both weights, fresh and ready, it may not be called bacon")
	}
	if ready > green {
		return other, fmt.Errorf("it weighs %s and the fresh belly weighed %s: what gained weight may not be called bacon (9 CFR 319.107)", ready.LB(), green.LB())
	}
	return "Bacon", nil
}

// A Length is in thousandths of a millimetre.
type Length int64

// Lengths asked for.
const (
	Millimetre   Length = 1000
	NotForSale   Length = 9525 // 3/8 in (9 CFR 317.16)
	HandlingType Length = 1588 // 1/16 in, up to a whole thousandth (9 CFR 317.2(l))
)

// CustomMark says whether a pack of custom-exempt meat is marked as it must be: "Not For
// Sale" in letters of at least 3/8 in. Such a pack may not be sold at all.
func CustomMark(text bool, letters Length) error {
	if !text {
		return fmt.Errorf("a pack of custom-exempt meat must say Not For Sale (9 CFR 317.16)")
	}
	if letters < NotForSale {
		return fmt.Errorf("letters of %s mm are too small: Not For Sale takes at least 3/8 in, 9.525 mm (9 CFR 317.16)", letters)
	}
	return nil
}

// String is a length in millimetres without needless noughts.
func (l Length) String() string {
	s := fmt.Sprintf("%d.%03d", l/1000, l%1000)
	for s[len(s)-1] == '0' {
		s = s[:len(s)-1]
	}
	if s[len(s)-1] == '.' {
		s = s[:len(s)-1]
	}
	return s
}

// Packing is how a shop packs what it cured itself.
type Packing struct {
	Vacuum   bool   // reduced oxygen
	OwnCured bool   // not cured at an inspected plant and received intact
	Variance string // number of the variance on file, "" for none
	Strict   bool   // without it stop, rather than warn
}

// An Answer is what a rule says of a thing.
type Answer string

// The answers.
const (
	OK    Answer = "ok"
	Warn  Answer = "warn"
	Block Answer = "block"
)

// MayPack says whether a shop may vacuum-pack its bacon: own-cured belly is not covered by
// the line for meat cured at a plant, so a variance is assumed to be needed (derived from
// Food Code 3-502.11 and 3-502.12).
func MayPack(p Packing) (Answer, string) {
	if !p.Vacuum || !p.OwnCured || p.Variance != "" {
		return OK, ""
	}
	const why = "own-cured bacon is vacuum-packed and no variance is on file: Food Code 3-502.12 covers only meat cured at an inspected plant. Ask the authority, then enter the number"
	if p.Strict {
		return Block, why
	}
	return Warn, why
}

// dollarLimit is the most a year's product sold to restaurants and the like may come to.
var dollarLimit = map[int]unit.Money{2015: 76_900_00, 2024: 100_900_00, 2025: 103_600_00}

// RestaurantSales is a calendar year of meat sales without inspection.
type RestaurantSales struct {
	Year        int
	All         unit.Money // product sales, households and all
	Restaurants unit.Money // of that, to hotels, restaurants and the like
	Cured       unit.Money // of that, cured, smoked or cooked
}

// Check says whether a year's sales stay within the retail exemption (9 CFR 303.1(d)).
func (r RestaurantSales) Check() error {
	if r.Cured > 0 {
		return fmt.Errorf("%s of it is cured, smoked or cooked meat, and none may go to restaurants without inspection", r.Cured)
	}
	if 4*r.Restaurants > r.All {
		return fmt.Errorf("%s to restaurants is over 25 %% of %s", r.Restaurants, r.All)
	}
	limit, ok := dollarLimit[r.Year]
	if !ok {
		return fmt.Errorf("the dollar limit of %d is not in this table: look it up in the Federal Register", r.Year)
	}
	if r.Restaurants > limit {
		return fmt.Errorf("%s to restaurants is over the limit of %s for %d", r.Restaurants, limit, r.Year)
	}
	return nil
}
