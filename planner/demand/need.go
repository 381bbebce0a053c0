package demand

import (
	"fmt"
	"slices"
	"strings"

	"flitchbook/planner/carcass"
	"flitchbook/planner/unit"
)

// Plan is the meat sheet of one order: the same reckoning for three counts of seats.
type Plan struct {
	Sold, Expected, Full Need
}

// Need is what one count of seats asks of the farm.
type Need struct {
	Level Level

	Slabs    int // wanted
	PerBelly int // slabs a belly of the usual animal gives
	Bellies  int // cut into slabs
	Extra    int // of those, from sides no clinic cuts up

	Halves, Hindquarters, Wholes int // cut up in clinics
	Sides                        int // all sides wanted: Halves + Hindquarters + 2 × Wholes + Extra
	Animals                      int

	SlabsOver    int // cut but not wanted
	BelliesLeft  int // neither cut into slabs nor taken home
	SpareSides   int // sides nobody asked for
	Forequarters int // what hindquarter classes leave of their sides

	Leaves    carcass.Left // to sell, bellies apart
	TakenHome carcass.Left // the cuts guests of a clinic take home, bellies apart

	Lines []Line // the reckoning, to be followed with a pencil
}

// Line is one step of the reckoning. Code names the class, or is empty for a step of
// the whole order.
type Line struct {
	Code string
	Text string
}

// Order reckons the three needs of one order. The order of in.Classes does not
// matter. It returns unit.Faults for a wrong input and *NoSlabs when slabs are
// wanted of bellies that give none.
func Order(in Input) (Plan, error) {
	if err := in.Check().Err(); err != nil {
		return Plan{}, err
	}
	in.Classes = slices.Clone(in.Classes)
	slices.SortFunc(in.Classes, func(a, b Class) int {
		if a.Day != b.Day {
			return int(a.Day) - int(b.Day)
		}
		return strings.Compare(a.Code, b.Code)
	})
	var p Plan
	for l, n := range []*Need{Sold: &p.Sold, Expected: &p.Expected, Full: &p.Full} {
		need, err := in.need(Level(l))
		if err != nil {
			return Plan{}, err
		}
		*n = need
	}
	return p, nil
}

// call is one class's wants at a level.
type call struct {
	Class
	slabs, units int
}

func (in Input) need(l Level) (Need, error) {
	n := Need{Level: l}
	calls := in.calls(l, &n)
	belly := in.Profile.PerBelly(in.Rule, in.Skin)
	n.PerBelly = belly.Slabs.Count
	if n.Slabs > 0 && n.PerBelly == 0 {
		return Need{}, &NoSlabs{n.Slabs, belly}
	}

	home := in.bellies(calls, belly, &n)
	n.Sides = n.Halves + n.Hindquarters + 2*n.Wholes + n.Extra
	n.Animals = (n.Sides + 1) / 2
	n.SlabsOver = n.Bellies*n.PerBelly - n.Slabs
	n.SpareSides = 2*n.Animals - n.Sides
	n.Forequarters = n.Hindquarters
	if in.Profile.Belly > 0 {
		n.BelliesLeft = 2*n.Animals - home - n.Bellies
	}
	in.leaves(calls, &n)
	in.sum(&n)
	return n, nil
}

// calls counts slabs and units class by class, and writes a line for each.
func (in Input) calls(l Level, n *Need) []call {
	var calls []call
	for _, c := range in.Classes {
		seats := c.Seats.At(l)
		if seats == 0 {
			n.line(c.Code, "no seats %s: nothing wanted", l)
			continue
		}
		if c.Unit == Belly {
			k := call{c, seats + c.Second + c.Demo, 0}
			n.Slabs += k.slabs
			calls = append(calls, k)
			n.line(c.Code, "%s = %s", slabSum(seats, c.Second, c.Demo), count(k.slabs, "slab"))
			continue
		}
		calls = append(calls, call{c, 0, seats}) // guests for now
	}
	in.units(calls, n)
	return calls
}

// units turns guests into halves, sharing them between clinics of one day if the
// shop allows it: then all of them stand at the first clinic of that day.
func (in Input) units(calls []call, n *Need) {
	for i := range calls {
		c := &calls[i]
		if c.Unit == Belly || c.units < 0 {
			continue
		}
		guests, codes := c.units, []string{c.Code}
		for j := i + 1; in.ShareUnits && j < len(calls); j++ {
			d := &calls[j]
			if d.Unit == c.Unit && d.Day == c.Day && d.PerUnit == c.PerUnit &&
				d.BellyHome == c.BellyHome && d.CutsHome == c.CutsHome {
				guests, codes = guests+d.units, append(codes, d.Code)
				d.units = -1
			}
		}
		c.units = (guests + c.PerUnit - 1) / c.PerUnit
		switch c.Unit {
		case Half:
			n.Halves += c.units
		case Hindquarter:
			n.Hindquarters += c.units
		case Whole:
			n.Wholes += c.units
		}
		share := ""
		if len(codes) > 1 {
			share = ", sharing"
		}
		n.line(strings.Join(codes, " + "), "%s, up to %d a %s%s = %s",
			count(guests, "guest"), c.PerUnit, c.Unit, share, count(c.units, c.Unit.String()))
	}
	for i := range calls {
		calls[i].units = max(calls[i].units, 0)
	}
}

// bellies works out how many bellies are cut and how many of them need a side of
// their own. It returns how many bellies the guests of clinics take home.
func (in Input) bellies(calls []call, belly carcass.BellyCut, n *Need) (home int) {
	type freed struct {
		day   unit.Day
		count int
		code  string
	}
	var clinics []freed
	for _, c := range calls {
		sides := c.units
		switch c.Unit {
		case Belly, Hindquarter:
			continue // the belly lies on the forequarter and flank: never slabs of ours
		case Whole:
			sides *= 2
		}
		if c.BellyHome {
			home += sides
			continue
		}
		clinics = append(clinics, freed{c.Day + 1, sides, c.Code})
	}
	if n.Slabs == 0 {
		return home
	}
	n.Bellies = ceil(n.Slabs, n.PerBelly)
	n.line("", "a belly of %s gives %d: %s", belly.Belly.LB(), n.PerBelly, belly.Slabs.Why)
	n.line("", "%s ÷ %d a belly = %s", count(n.Slabs, "slab"), n.PerBelly, count(n.Bellies, "belly"))

	var wanted, free int
	var by unit.Day
	for i, c := range calls {
		wanted += c.slabs
		if c.Unit != Belly || i+1 < len(calls) && calls[i+1].Unit == Belly && calls[i+1].Day == c.Day {
			continue
		}
		have := 0
		for _, f := range clinics {
			if f.day <= c.Day {
				have += f.count
			}
		}
		if extra := ceil(wanted, n.PerBelly) - have; extra > n.Extra {
			n.Extra, free, by = extra, have, c.Day
		}
	}
	for _, f := range clinics {
		n.line(f.code, "%s free for slabs from %s", count(f.count, "belly"), f.day.Show())
	}
	if free > 0 {
		n.line("", "%s wanted by %s − %d from clinics = %s of their own", count(n.Extra+free, "belly"), by.Show(), free, count(n.Extra, "side"))
	}
	return home
}

// leaves adds up what is left to sell and what goes home with the guests.
func (in Input) leaves(calls []call, n *Need) {
	home := 0
	for _, c := range calls {
		if c.CutsHome {
			sides := c.units
			if c.Unit == Whole {
				sides *= 2
			}
			home += sides
		}
	}
	n.TakenHome = in.Profile.Leaves(in.Profile.ForecastSides(home))
	n.Leaves = in.Profile.Leaves(in.Profile.ForecastSides(2*n.Animals - home))
}

func (in Input) sum(n *Need) {
	if n.Sides == 0 {
		n.line("", "nothing to order")
		return
	}
	var parts []string
	for _, p := range []struct {
		n    int
		word string
	}{{n.Halves, "half"}, {n.Hindquarters, "hindquarter"}, {n.Wholes, "whole"}, {n.Extra, "side for bellies"}} {
		if p.n > 0 {
			parts = append(parts, count(p.n, p.word))
		}
	}
	n.line("", "%s = %s ÷ 2 = %s", strings.Join(parts, " + "), count(n.Sides, "side"), animals(n.Animals, in.Profile.Species))
	for _, p := range []struct {
		n    int
		word string
	}{{n.SlabsOver, "slab over"}, {n.BelliesLeft, "belly not cut"}, {n.SpareSides, "side nobody asked for"}, {n.Forequarters, "forequarter to sell"}} {
		if p.n > 0 {
			n.line("", "%s", count(p.n, p.word))
		}
	}
	n.line("", "leaves %s to sell besides bellies", n.Leaves.Total.LB())
}

// Standing compares a need with animals already ordered: after the order-by moment
// the order does not change, the difference finds another home.
type Standing struct {
	Have, Need int // sides
	Over       int // sides for the counter
	Short      int // sides missing
	Text       string
}

// Against compares the need with an order of so many animals.
func (n Need) Against(ordered int) Standing {
	s := Standing{Have: 2 * ordered, Need: n.Sides}
	s.Over, s.Short = max(s.Have-s.Need, 0), max(s.Need-s.Have, 0)
	switch {
	case s.Over > 0:
		s.Text = fmt.Sprintf("need %d, have %d: %s to sell over the counter; the order stands", s.Need, s.Have, count(s.Over, "side"))
	case s.Short > 0:
		s.Text = fmt.Sprintf("need %d, have %d: %s short", s.Need, s.Have, count(s.Short, "side"))
	default:
		s.Text = fmt.Sprintf("need %d, have %d", s.Need, s.Have)
	}
	return s
}

func (n *Need) line(code, format string, args ...any) {
	n.Lines = append(n.Lines, Line{code, fmt.Sprintf(format, args...)})
}

func ceil(a, b int) int { return (a + b - 1) / b }

func slabSum(seats, second, demo int) string {
	parts := []string{count(seats, "seat")}
	if second > 0 {
		parts = append(parts, count(second, "second slab"))
	}
	if demo > 0 {
		parts = append(parts, fmt.Sprintf("%d demo", demo))
	}
	return strings.Join(parts, " + ")
}

// count writes "1 belly", "4 bellies", "2 sides for bellies".
func count(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	first, rest, _ := strings.Cut(word, " ")
	switch first {
	case "belly":
		first = "bellies"
	case "half":
		first = "halves"
	case "second", "demo": // slabs
		return fmt.Sprintf("%d %ss", n, word)
	default:
		first += "s"
	}
	return strings.TrimSpace(fmt.Sprintf("%d %s %s", n, first, rest))
}

func animals(n int, species string) string {
	switch species {
	case "pig", "lamb":
		return count(n, species)
	case "deer":
		return fmt.Sprintf("%d deer", n)
	}
	return count(n, "animal")
}
