package season

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"flitchbook/planner/unit"
)

// table lists sittings that ask more of the tables, the teachers or the sealer than
// there is. Whoever is there when a sitting begins sits at the tables with it; one
// teacher takes one class.
func (r Rules) table(sittings []Sitting, slabs Slabs) []Break {
	var out []Break
	sorted := inOrder(sittings)
	for i, s := range sorted {
		people, codes := 0, []string{}
		for j, o := range sorted {
			if i == j || s.meets(o) {
				people += o.people(slabs)
				codes = append(codes, o.Code)
			}
		}
		who := strings.Join(codes, ", ")
		if r.TableSeats > 0 && people > r.TableSeats {
			out = add(out, Break{s.Day, "table", people, r.TableSeats, fmt.Sprintf("%s: %d at the tables of %d seats (%s)", s.Day.Show(), people, r.TableSeats, who)})
		}
		if r.Teachers > 0 && len(codes) > r.Teachers {
			out = add(out, Break{s.Day, "hands", len(codes), r.Teachers, fmt.Sprintf("%s: %s at one time, and %d to teach", s.Day.Show(), who, r.Teachers)})
		}
		if bags, most := slabs(s), r.sealable(); r.SealBags > 0 && bags > most {
			out = append(out, Break{s.Day, "sealer", bags, most, fmt.Sprintf("%s: %s has %d bags to seal, the sealer closes %d in %d minutes",
				s.Day.Show(), s.Code, bags, most, int(r.SealWithin/time.Minute))})
		}
	}
	return out
}

// add appends a break that is not listed yet: two sittings that begin together say the same.
func add(list []Break, b Break) []Break {
	if slices.Contains(list, b) {
		return list
	}
	return append(list, b)
}

// meets says whether another sitting runs when this one begins.
func (s Sitting) meets(o Sitting) bool {
	return s.Day == o.Day && s.To > s.From && o.To > o.From && o.From <= s.From && s.From < o.To
}

// people is everybody who sits down: with every seat sold or as sold; a class without
// slabs always with every seat.
func (s Sitting) people(slabs Slabs) int {
	n := s.Seats
	if !s.Plain {
		n = max(slabs(s)-s.Second-s.Demo, 0)
	}
	return n + s.Watching
}

// sealable is how many bags the sealer closes in the time a class has for it.
func (r Rules) sealable() int {
	if r.SealBags <= 0 || r.SealCycle <= 0 {
		return 0
	}
	return int(r.SealWithin/r.SealCycle) * r.SealBags
}

// closedOn is the break of a class on a day the shop is closed.
func closedOn(d unit.Day, closed Closed) (Break, bool) {
	if !closed.Has(d) {
		return Break{}, false
	}
	return Break{Day: d, What: "closed", Text: d.Show() + ": the shop is closed"}, true
}
