// Package buying plans the orders of a season: from the classes to come and the kill
// days that fit them, how many animals of which farm on which kill day feed them
// cheapest after selling what is left, each class from one order.
//
// # Method
//
// The classes, farms and kill days become a problem of package order, which is solved
// to proof. Of each animal the halves and bellies are followed:
//
//	animal → 2 sides;  side → 1 belly + 1 half (the side without its belly)
//	belly  → as many slabs as the farm's usual animal gives (carcass.PerBelly)
//	half   → one clinic's table, or what its cuts bring
//
// What a further half or belly brings falls with every one in the week, as outlets
// fill: the n-th brings Sell(n) − Sell(n−1). Those steps are the prices of the pieces
// left over. A week's outlets are counted for each farm by itself.
//
// Which kill day fits which class is package season's word and comes with the input.
//
// A clinic's belly can become slabs only for a class on a later day. The problem above
// does not know the day; package demand does, and every line of the plan is reckoned
// again by it. Where it asks for an animal more, the line gets it and the plan no longer
// counts as proven.
package buying

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"

	"flitchbook/planner/carcass"
	"flitchbook/planner/demand"
	"flitchbook/planner/order"
	"flitchbook/planner/unit"
)

// Farm is who could be asked, and what an animal of the usual weight costs.
type Farm struct {
	Code, Name string
	Profile    carcass.Profile
	Price      unit.Money // a pound of hot carcass
	KillFee    unit.Money // an animal
	Haul       unit.Money // an animal
}

// Animal is what one animal of the usual weight costs.
func (f Farm) Animal() unit.Money {
	return f.Price.PerPound(f.Profile.HCW) + f.KillFee + f.Haul
}

func (f Farm) why() string {
	return fmt.Sprintf("%s × %s + %s kill + %s haul", f.Profile.HCW.LB(), f.Price, f.KillFee, f.Haul)
}

// Day is a kill day and how many animals the plant still takes of us.
type Day struct {
	Kill unit.Day
	Free int
}

// Class is a class to come and the kill days that fit it.
type Class struct {
	demand.Class
	Kills []unit.Day
	Why   string // why none fits
}

// Input is what is to be planned: one species.
type Input struct {
	Species string
	Level   demand.Level
	Rule    carcass.SlabRule
	Farms   []Farm // the one known longest first
	Days    []Day
	Classes []Class
	Outlets []carcass.Outlet // what the shop can sell in a week
}

// Line is one order of the plan.
type Line struct {
	Kill    unit.Day
	Farm    string // code
	Name    string // of the farm
	Animals int
	Classes []string
	Cost    unit.Money // of the animals
	Need    demand.Need
	Sales   carcass.Sales // what is left, bellies apart, against a week's outlets
	Why     []string      // to be followed with a pencil
}

// Unfed is a class that no kill day feeds.
type Unfed struct{ Code, Why string }

// Other is another plan and what it costs more.
type Other struct {
	More unit.Money
	Text string
}

// Plan is what to order.
type Plan struct {
	Lines  []Line
	Unfed  []Unfed
	Bought unit.Money // all animals
	Sold   unit.Money // what is left over brings, as the search reckons it
	Cost   unit.Money // Bought − Sold
	Bound  unit.Money // no plan can cost less
	Proven bool       // Cost is Bound
	Next   []Other
}

// Solve plans the orders. Classes without seats at the level ask for nothing; classes
// that no kill day fits are listed and left out. The error is *order.Short when the
// places of the kill days do not suffice, or one of package order's.
func Solve(in Input, opt order.Options) (Plan, error) {
	var out Plan
	m, err := in.model(&out)
	if err != nil || len(m.p.Classes) == 0 {
		return out, err
	}
	opt.Near = nearWork // R19: the latest kill that fits, beef the one nearest its target
	a, err := order.Solve(m.p, opt)
	if err != nil {
		return out, err
	}
	out.Proven = a.Status == order.Proven
	out.Bound, out.Cost = a.Bound, a.Cost
	if err := m.lines(&out, a.Plan); err != nil {
		return out, err
	}
	for _, next := range a.Next {
		out.Next = append(out.Next, Other{next.Cost - a.Cost, m.words(order.Differs(a.Plan, next))})
	}
	return out, out.check(in)
}

// model is the problem and the way back from its names.
type model struct {
	in   Input
	p    order.Problem
	day0 unit.Day
	at   map[string]offer // by offer
}

type offer struct {
	farm int
	kill unit.Day
}

func (in Input) model(out *Plan) (*model, error) {
	m := &model{in: in, at: map[string]offer{}}
	days := slices.SortedFunc(slices.Values(in.Days), func(a, b Day) int { return cmp.Compare(a.Kill, b.Kill) })
	if len(days) > 0 {
		m.day0 = days[0].Kill.Monday()
	}
	m.p.Cooler, m.p.Freezer = order.Room{Cap: plenty}, order.Room{Cap: plenty}
	m.p.DayName = func(d int) string { return (m.day0 + unit.Day(d)).Show() }
	m.classes(out)
	if len(m.p.Classes) == 0 {
		return m, nil
	}
	weeks := 1
	if len(days) > 0 {
		weeks = int(days[len(days)-1].Kill-m.day0)/7 + 1
	}
	if err := m.kinds(weeks); err != nil {
		return m, err
	}
	for _, d := range days {
		if d.Free < 1 {
			continue
		}
		slot := d.Kill.String()
		m.p.Slots = append(m.p.Slots, order.Slot{Name: slot, Group: animals, Most: d.Free})
		for f, farm := range in.Farms {
			id := farm.Name + " " + d.Kill.Show()
			m.at[id] = offer{f, d.Kill}
			m.p.Offers = append(m.p.Offers, order.Offer{ID: id, Farm: farm.Name, Kill: int(d.Kill - m.day0), Day: int(d.Kill - m.day0), Slot: slot,
				Prices: []order.Price{{Form: form(f), Unit: farm.Animal(), Why: farm.why()}}, Caps: []order.Count{{Name: animals, N: d.Free}}})
		}
	}
	for i := range m.p.Classes {
		c := &m.p.Classes[i]
		kills := in.Classes[slices.IndexFunc(in.Classes, func(k Class) bool { return k.Code == c.ID })].Kills
		c.From = []string{}
		for _, o := range m.p.Offers {
			if slices.Contains(kills, m.at[o.ID].kill) && m.serves(m.at[o.ID].farm, *c) {
				c.From = append(c.From, o.ID)
			}
		}
	}
	return m, nil
}

const (
	animals = "animals"
	slab    = "slab"
	plenty  = 1_000_000

	nearWork = 20_000 // pivots
)

// classes puts down what each class asks for, and lists those nothing can feed.
func (m *model) classes(out *Plan) {
	for _, c := range m.in.Classes {
		n := c.Seats.At(m.in.Level)
		if n == 0 {
			continue
		}
		if len(c.Kills) == 0 {
			out.Unfed = append(out.Unfed, Unfed{c.Code, c.Why})
			continue
		}
		ask := order.Count{Name: c.Unit.String(), N: (n + max(1, c.PerUnit) - 1) / max(1, c.PerUnit)}
		if c.Unit == demand.Belly {
			ask = order.Count{Name: slab, N: n + c.Second + c.Demo}
		}
		day := 0
		if m.day0 != 0 {
			day = int(c.Day - m.day0)
		}
		m.p.Classes = append(m.p.Classes, order.Class{ID: c.Code, Day: day, Demand: []order.Count{ask}, OneOffer: true})
	}
}

// serves says whether a farm's animals give what a class asks for at all.
func (m *model) serves(farm int, c order.Class) bool {
	return c.Demand[0].Name != slab || m.perBelly(farm) > 0
}

func (m *model) perBelly(farm int) int {
	return m.in.Farms[farm].Profile.PerBelly(m.in.Rule, carcass.Skinless).Slabs.Count
}

func form(farm int) string               { return fmt.Sprintf("animal %d", farm) }
func piece(what string, farm int) string { return fmt.Sprintf("%s %d", what, farm) }

// kinds are the pieces an animal gives, farm by farm.
func (m *model) kinds(weeks int) error {
	shared := map[string]bool{}
	generic := func(name string) {
		if !shared[name] {
			shared[name] = true
			m.p.Kinds = append(m.p.Kinds, order.Kind{Name: name, FreshMax: plenty / 100})
		}
	}
	most := 0
	for _, d := range m.in.Days {
		most = max(most, 2*d.Free)
	}
	most *= 5 // kill days of a week
	for f, farm := range m.in.Farms {
		gives := []order.Count{{Name: piece("side", f), N: 2}}
		unitOf := demand.Half
		for _, c := range m.in.Classes {
			if c.Unit == demand.Whole || c.Unit == demand.Hindquarter {
				unitOf = c.Unit
			}
		}
		switch unitOf {
		case demand.Whole:
			generic(demand.Whole.String())
			gives = []order.Count{{Name: demand.Whole.String(), N: 1}}
		case demand.Hindquarter:
			generic(demand.Hindquarter.String())
			gives = []order.Count{{Name: demand.Hindquarter.String(), N: 2}}
		default:
			generic(demand.Half.String())
			generic(slab)
			left := farm.Profile.Leaves(farm.Profile.ForecastSides(1))
			halves, err := m.steps(piece("half", f), left.Cuts, most, weeks, []order.Count{{Name: demand.Half.String(), N: 1}})
			if err != nil {
				return err
			}
			var cut []order.Count
			if n := m.perBelly(f); n > 0 {
				cut = []order.Count{{Name: slab, N: n}}
			}
			belly := farm.Profile.PerBelly(m.in.Rule, carcass.Skinless).Belly
			bellies, err := m.steps(piece("belly", f), []carcass.Cut{{Name: "belly", Weight: belly}}, most, weeks, cut)
			if err != nil {
				return err
			}
			m.p.Kinds = append(m.p.Kinds, order.Kind{Name: piece("side", f), FreshMax: plenty / 100,
				BreaksInto: []order.Count{{Name: bellies, N: 1}, {Name: halves, N: 1}}})
		}
		m.p.Forms = append(m.p.Forms, order.Form{Name: form(f), Gives: gives, Group: animals, Size: 1})
	}
	return nil
}

// steps lays down a piece left over as a stair of kinds, dearest first: so many a week
// bring so much each, the next fewer; the last breaks into what classes use. It returns
// the name of the first.
func (m *model) steps(name string, cuts []carcass.Cut, most, weeks int, into []order.Count) (string, error) {
	type step struct {
		value unit.Money
		n     int
	}
	var stair []step
	var sum unit.Money
	last := unit.Money(1) << 60
	for n := 1; n <= most; n++ {
		var all []carcass.Cut
		for _, c := range cuts {
			all = append(all, carcass.Cut{Name: c.Name, Weight: c.Weight * unit.Weight(n)})
		}
		money := carcass.Sell(all, m.in.Outlets, 1).Money
		value := min(money-sum, last) // rounding may lift a step by a cent
		if value <= 0 {
			break
		}
		sum, last = money, value
		if k := len(stair); k > 0 && stair[k-1].value == value {
			stair[k-1].n++
		} else {
			stair = append(stair, step{value, 1})
		}
	}
	for i := len(stair) - 1; i >= 0; i-- {
		k := order.Kind{Name: fmt.Sprintf("%s.%d", name, i), FreshMax: plenty / 100, Value: stair[i].value, BreaksInto: into}
		for range weeks {
			k.Outlet = append(k.Outlet, stair[i].n)
		}
		m.p.Kinds = append(m.p.Kinds, k)
		into = []order.Count{{Name: k.Name, N: 1}}
	}
	if len(stair) == 0 {
		m.p.Kinds = append(m.p.Kinds, order.Kind{Name: name, FreshMax: plenty / 100, BreaksInto: into})
		return name, nil
	}
	return fmt.Sprintf("%s.0", name), nil
}

// lines turns a plan back into orders and reckons each again by the rules of demand.
func (m *model) lines(out *Plan, plan order.Plan) error {
	for _, r := range plan.Orders {
		at := m.at[r.Offer]
		farm := m.in.Farms[at.farm]
		l := Line{Kill: at.kill, Farm: farm.Code, Name: farm.Name, Animals: r.Units}
		in := demand.Input{Profile: farm.Profile, Rule: m.in.Rule}
		for _, u := range plan.Uses {
			if u.Offer == r.Offer && !slices.Contains(l.Classes, u.Class) {
				l.Classes = append(l.Classes, u.Class)
			}
		}
		for _, c := range m.in.Classes {
			if slices.Contains(l.Classes, c.Code) {
				in.Classes = append(in.Classes, c.Class)
			}
		}
		need, err := demand.Order(in)
		if err != nil {
			return err
		}
		l.Need = [...]demand.Need{need.Sold, need.Expected, need.Full}[m.in.Level]
		switch more := l.Need.Animals - l.Animals; {
		case more > 0:
			l.Animals += more
			out.Proven = false
			out.Cost += farm.Animal() * unit.Money(more)
			l.Why = append(l.Why, fmt.Sprintf("%d more than halves and bellies alone ask for: a clinic's belly comes too late for the class before it", more))
		case more < 0:
			l.Why = append(l.Why, fmt.Sprintf("%d more than the classes need: what is left of it sells for more than it costs", -more))
		}
		l.Cost = farm.Animal() * unit.Money(l.Animals)
		out.Bought += l.Cost
		l.Why = append(l.Why, fmt.Sprintf("an animal: %s = %s", farm.why(), farm.Animal()))
		for _, n := range l.Need.Lines {
			l.Why = append(l.Why, strings.TrimSpace(n.Code+" "+n.Text))
		}
		taken := l.Need.TakenHome.Sides
		l.Sales = carcass.Sell(farm.Profile.Leaves(farm.Profile.ForecastSides(max(0, 2*l.Animals-taken))).Cuts, m.in.Outlets, 1)
		out.Lines = append(out.Lines, l)
	}
	slices.SortStableFunc(out.Lines, func(a, b Line) int { return cmp.Or(cmp.Compare(a.Kill, b.Kill), cmp.Compare(a.Farm, b.Farm)) })
	out.Sold = out.Bought - out.Cost
	return nil
}

// words puts the farm's animals where order speaks of its forms.
func (m *model) words(text string) string {
	for f, farm := range m.in.Farms {
		text = strings.ReplaceAll(text, form(f)+" of offer "+farm.Name, "from "+farm.Name)
	}
	return text
}

// check looks at a plan with the input alone: every class that has seats and a kill day
// is fed by one order on a day that fits, no day takes more than it has places, and each
// order has the animals its classes need.
func (p Plan) check(in Input) error {
	var wrong []error
	bad := func(format string, args ...any) { wrong = append(wrong, fmt.Errorf("buying: "+format, args...)) }
	from, day := map[string]unit.Day{}, map[unit.Day]int{}
	var bought unit.Money
	for _, l := range p.Lines {
		day[l.Kill] += l.Animals
		bought += l.Cost
		if l.Animals < l.Need.Animals {
			bad("%s, %s: %d animals, its classes need %d", l.Name, l.Kill.Show(), l.Animals, l.Need.Animals)
		}
		for _, c := range l.Classes {
			if from[c] != 0 {
				bad("class %s is fed twice", c)
			}
			from[c] = l.Kill
		}
	}
	for _, c := range in.Classes {
		if c.Seats.At(in.Level) == 0 || len(c.Kills) == 0 {
			continue
		}
		if !slices.Contains(c.Kills, from[c.Code]) {
			bad("class %s is fed by the kill of %s", c.Code, from[c.Code].Show())
		}
	}
	for _, d := range in.Days {
		if n := day[d.Kill]; n > d.Free {
			bad("%s: %d animals on %d places", d.Kill.Show(), n, d.Free)
		}
	}
	if bought != p.Bought || p.Cost != p.Bought-p.Sold || p.Bound > p.Cost {
		bad("the sums do not agree: %s, %s, %s, %s", p.Bought, p.Sold, p.Cost, p.Bound)
	}
	return errors.Join(wrong...)
}
