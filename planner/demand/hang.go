package demand

import (
	"fmt"
	"slices"

	"flitchbook/planner/carcass"
	"flitchbook/planner/unit"
)

// Hang is what an order of a fixed number of animals gives when they hang at a weight:
// the answer to "what if the pigs come lighter".
type Hang struct {
	HCW     unit.Weight
	Level   Level
	Animals int // ordered, or needed at the usual weight

	Wanted  int // slabs
	Bellies int // to be cut into slabs in time for the last class
	Plain   carcass.BellyCut
	SkinOn  carcass.BellyCut

	Slabs, Short         int // skinless
	SkinSlabs, SkinShort int // every belly with its skin on
	Skins                int // fewest bellies that must keep their skin so that none is short; −1: not enough
	Needs                int // animals the classes need at this weight; 0: no number is enough
	Leaves               carcass.Left
}

// AtHang reckons the order at a hanging weight. animals 0 takes what the level needs at
// the profile's usual weight.
func (in Input) AtHang(l Level, animals int, hcw unit.Weight) (Hang, error) {
	f := in.Check()
	if hcw <= 0 || hcw > 3000*unit.Pound {
		f.Add("hang", "the hanging weight must lie above 0 and under 3,000 lb")
	}
	if animals < 0 || animals > biggest {
		f.Add("animals", fmt.Sprintf("the animals must lie between 0 and %d", biggest))
	}
	if err := f.Err(); err != nil {
		return Hang{}, err
	}
	if animals == 0 {
		p, err := Order(in)
		if err != nil {
			return Hang{}, err
		}
		animals = [...]Need{p.Sold, p.Expected, p.Full}[l].Animals
	}
	at := in
	at.Profile.HCW = hcw
	h := Hang{HCW: hcw, Level: l, Animals: animals, Plain: at.Profile.PerBelly(in.Rule, carcass.Skinless), SkinOn: at.Profile.PerBelly(in.Rule, carcass.SkinOn)}
	h.Slabs, h.Short = at.slabsFrom(l, animals, h.Plain.Slabs.Count, &h)
	h.SkinSlabs, h.SkinShort = at.slabsFrom(l, animals, h.SkinOn.Slabs.Count, &h)
	more := h.SkinOn.Slabs.Count - h.Plain.Slabs.Count
	switch {
	case h.Short == 0:
	case h.SkinShort > 0 || more <= 0:
		h.Skins = -1
	default:
		h.Skins = ceil(h.Short, more)
	}
	if p, err := Order(at); err == nil {
		h.Needs = [...]Need{p.Sold, p.Expected, p.Full}[l].Animals
	}
	h.Leaves = at.Profile.Leaves(at.Profile.ForecastSides(2 * animals))
	return h, nil
}

// slabsFrom counts the slabs of so many animals at so many a belly, and how many are
// short: class after class, since a clinic's belly is free only the day after it.
func (in Input) slabsFrom(l Level, animals, perBelly int, h *Hang) (slabs, short int) {
	var n Need
	classes := slices.Clone(in.Classes)
	slices.SortStableFunc(classes, func(a, b Class) int { return int(a.Day) - int(b.Day) })
	in.Classes = classes
	calls := in.calls(l, &n)
	sides := 2 * animals
	type freed struct {
		day   unit.Day
		count int
	}
	var clinics []freed
	for _, c := range calls {
		switch c.Unit {
		case Belly:
			continue
		case Hindquarter:
			sides -= c.units
			continue
		}
		k := c.units
		if c.Unit == Whole {
			k *= 2
		}
		sides -= k
		if !c.BellyHome {
			clinics = append(clinics, freed{c.Day + 1, k})
		}
	}
	h.Wanted, h.Bellies = 0, max(sides, 0)
	for _, c := range calls {
		if c.Unit != Belly {
			continue
		}
		h.Wanted += c.slabs
		have := max(sides, 0)
		for _, f := range clinics {
			if f.day <= c.Day {
				have += f.count
			}
		}
		h.Bellies = have
		short = max(short, h.Wanted-have*perBelly)
	}
	return h.Bellies * perBelly, short
}
