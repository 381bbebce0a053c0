package buying

import (
	"cmp"
	"fmt"
	"slices"

	"flitchbook/planner/carcass"
	"flitchbook/planner/demand"
	"flitchbook/planner/order"
	"flitchbook/planner/unit"
)

// mixed plans by package order what is too large for the walk.
func (in Input) mixed(out Plan, opt order.Options) (Plan, error) {
	m, err := in.model()
	if err != nil || len(m.p.Classes) == 0 {
		return out, err
	}
	opt.Near = nearWork
	a, err := order.Solve(m.p, opt)
	if err != nil {
		return out, err
	}
	orders, more, err := m.orders(a.Plan)
	if err != nil {
		return out, err
	}
	if err := in.finish(&out, orders); err != nil {
		return out, err
	}
	out.Bound = min(a.Bound, out.Cost)
	out.Proven = a.Status == order.Proven && !more && out.Bound == out.Cost
	for _, next := range a.Next {
		other, _, err := m.orders(next)
		if err != nil {
			return out, err
		}
		out.Next = append(out.Next, Other{next.Cost - a.Cost, in.differs(orders, other)})
	}
	return out, out.check(in)
}

// orders reads a plan of package order; more says that one got an animal more.
func (m *model) orders(plan order.Plan) (all []ordered, more bool, err error) {
	for _, r := range plan.Orders {
		at := m.at[r.Offer]
		o := ordered{kill: at.kill, farm: at.farm, animals: r.Units}
		for _, u := range plan.Uses {
			if u.Offer == r.Offer && !slices.Contains(o.classes, u.Class) {
				o.classes = append(o.classes, u.Class)
			}
		}
		n, err := m.in.reckon(o.farm, o.classes)
		if err != nil {
			return nil, false, err
		}
		if n.Animals > o.animals {
			o.animals, more = n.Animals, true
		}
		all = append(all, o)
	}
	slices.SortFunc(all, func(a, b ordered) int { return cmp.Or(cmp.Compare(a.kill, b.kill), cmp.Compare(a.farm, b.farm)) })
	return all, more, nil
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

func (in Input) model() (*model, error) {
	m := &model{in: in, at: map[string]offer{}}
	days := slices.SortedFunc(slices.Values(in.Days), func(a, b Day) int { return cmp.Compare(a.Kill, b.Kill) })
	if len(days) > 0 {
		m.day0 = days[0].Kill.Monday()
	}
	m.p.Cooler, m.p.Freezer = order.Room{Cap: plenty}, order.Room{Cap: plenty}
	m.p.DayName = func(d int) string { return (m.day0 + unit.Day(d)).Show() }
	m.classes()
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

// classes puts down what each class asks for.
func (m *model) classes() {
	for _, c := range m.in.Classes {
		n := c.Seats.At(m.in.Level)
		if n == 0 || len(c.Kills) == 0 {
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
			m.p.Kinds = append(m.p.Kinds, order.Kind{Name: name, FreshMax: plenty / 100, Target: m.in.Target})
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
