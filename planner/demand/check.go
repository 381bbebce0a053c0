package demand

import (
	"fmt"
	"slices"

	"flitchbook/planner/unit"
)

// Check proves a need by playing the days through, apart from the way it was found:
// every clinic gets its halves, every slab is taken from a belly that lies in the cold
// room by then, one animal fewer would not do, and every pound of the animals is
// either left, taken home or belly.
func (n Need) Check(in Input) error {
	if !in.play(n.Level, n.Animals) {
		return fmt.Errorf("demand: %d animals do not feed the seats %s", n.Animals, n.Level)
	}
	if n.Animals > 0 && in.play(n.Level, n.Animals-1) {
		return fmt.Errorf("demand: %d animals would feed the seats %s, not only %d", n.Animals-1, n.Level, n.Animals)
	}
	if used := n.Bellies*n.PerBelly - n.SlabsOver; used != n.Slabs {
		return fmt.Errorf("demand: %d bellies of %d give %d slabs and %d over, not %d", n.Bellies, n.PerBelly, used, n.SlabsOver, n.Slabs)
	}
	if n.BelliesLeft < 0 || n.SpareSides < 0 || n.SlabsOver < 0 || n.PerBelly > 0 && n.SlabsOver >= n.PerBelly {
		return fmt.Errorf("demand: impossible remainder %+v", n)
	}
	var whole unit.Weight
	for _, s := range in.Profile.ForecastSides(2 * n.Animals) {
		whole += s - in.Profile.Break(s).Belly
	}
	if parts := n.Leaves.Total + n.TakenHome.Total; parts != whole {
		return fmt.Errorf("demand: %d animals hold %s besides bellies, the plan accounts for %s", n.Animals, whole, parts)
	}
	return nil
}

// Check proves all three needs of the plan.
func (p Plan) Check(in Input) error {
	for _, n := range []Need{p.Sold, p.Expected, p.Full} {
		if err := n.Check(in); err != nil {
			return err
		}
	}
	return nil
}

// play walks the days with so many animals in the cold room and says whether every
// class got its meat.
func (in Input) play(l Level, animals int) bool {
	perBelly := in.Profile.PerBelly(in.Rule, in.Skin).Slabs.Count
	sides := 2 * animals // not yet claimed
	type lot struct {
		from  unit.Day
		slabs int
	}
	var lots []lot
	var bacon []Class
	guests := map[Class]int{}
	var clinics []Class
	for _, c := range in.Classes {
		seats := c.Seats.At(l)
		if seats == 0 {
			continue
		}
		if c.Unit == Belly {
			bacon = append(bacon, c)
			continue
		}
		key := c
		if in.ShareUnits { // one purse for all clinics that may share
			key = Class{Unit: c.Unit, Day: c.Day, PerUnit: c.PerUnit, BellyHome: c.BellyHome, CutsHome: c.CutsHome}
		}
		if guests[key] == 0 {
			clinics = append(clinics, key)
		}
		guests[key] += seats
	}
	for _, c := range clinics {
		for g := guests[c]; g > 0; g -= c.PerUnit {
			take := 1
			if c.Unit == Whole {
				take = 2
			}
			sides -= take
			for range take {
				if c.Unit != Hindquarter && !c.BellyHome {
					lots = append(lots, lot{c.Day + 1, perBelly})
				}
			}
		}
	}
	if sides < 0 {
		return false
	}
	slices.SortFunc(bacon, func(a, b Class) int { return int(a.Day) - int(b.Day) })
	// Bellies of clinics first, in the order they come free: they cost no side.
	slices.SortFunc(lots, func(a, b lot) int { return int(a.from) - int(b.from) })
	open := 0 // slabs of bellies begun
	for _, c := range bacon {
		for range c.Seats.At(l) + c.Second + c.Demo {
			if open == 0 {
				switch {
				case len(lots) > 0 && lots[0].from <= c.Day:
					open, lots = lots[0].slabs, lots[1:]
				case sides > 0:
					sides--
					open = perBelly
				}
				if open == 0 {
					return false
				}
			}
			open--
		}
	}
	return true
}
