// Package buying plans the orders of a season: from the classes to come and the kill
// days that fit them, how many animals of which farm on which kill day feed them
// cheapest after selling what is left, each class from one order.
//
// # Method
//
// A kill week's orders depend on earlier weeks only through which classes are fed
// already, so the weeks are walked in order of time, keeping for every set of fed classes
// the cheapest few ways (walk.go). What a set of classes asks of a farm is package
// demand's word, a clinic's belly that comes too late for the class before it included.
// What is left is sold as the week's outlets take it, farm by farm; an animal nobody
// needs is bought where its parts bring more than it costs. The walk is exact: Proven.
//
//	cost = animals × (hot weight × price + kill + haul) − what outlets pay for what is left
//
// Fewest unfed classes come before any money, and among equal costs the days nearest to
// the house rule (R19: the latest kill that fits; beef nearest its target).
//
// Where too many classes overlap for that, the problem goes to package order: halves and
// bellies are followed as pieces, and what a further one brings is laid out as a stair of
// prices (mixed.go). Its lines are reckoned again by demand, and one that needs an animal
// more gets it; the plan then no longer counts as proven.
//
// Which kill day fits which class is package season's word and comes with the input.
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
	Target  int              // days wanted from kill to class; 0 = as few as fit
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
	Why     []string // to be followed with a pencil
}

// WeekSales is what one farm's animals of a week leave, against the week's outlets.
type WeekSales struct {
	Monday unit.Day
	Name   string // of the farm
	carcass.Sales
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
	Sales  []WeekSales
	Bought unit.Money // all animals
	Sold   unit.Money // what is left over brings
	Cost   unit.Money // Bought − Sold
	Bound  unit.Money // no plan can cost less
	Proven bool       // Cost is Bound
	Next   []Other
}

// Solve plans the orders. Classes without seats at the level ask for nothing; classes
// that no kill day feeds are listed. opt bounds the search where package order is asked;
// the error is then one of its own.
func Solve(in Input, opt order.Options) (Plan, error) {
	var out Plan
	for _, c := range in.Classes {
		if c.Seats.At(in.Level) > 0 && len(c.Kills) == 0 {
			out.Unfed = append(out.Unfed, Unfed{c.Code, c.Why})
		}
	}
	ways, w, ok, err := in.walk(opt.Plans)
	if err != nil {
		return out, err
	}
	if !ok {
		return in.mixed(out, opt)
	}
	best := ways[0].orders(w)
	if err := in.finish(&out, best); err != nil {
		return out, err
	}
	if out.Cost != ways[0].cost {
		return out, fmt.Errorf("buying: the walk says %s, its orders come to %s", ways[0].cost, out.Cost)
	}
	out.Bound, out.Proven = out.Cost, true
	fed := map[string]bool{}
	for _, l := range out.Lines {
		for _, c := range l.Classes {
			fed[c] = true
		}
	}
	for _, i := range w.asks {
		if c := in.Classes[i]; !fed[c.Code] {
			out.Unfed = append(out.Unfed, Unfed{c.Code, "the places of the kill days that fit are taken"})
		}
	}
	for _, v := range ways[1:] {
		if v.unfed == ways[0].unfed {
			out.Next = append(out.Next, Other{v.cost - ways[0].cost, in.differs(best, v.orders(w))})
		}
	}
	return out, out.check(in)
}

// An ordered is one order before it is reckoned.
type ordered struct {
	kill    unit.Day
	farm    int
	animals int
	classes []string
}

func (v *way) orders(w *walker) (all []ordered) {
	for ; v != nil; v = v.prev {
		for _, c := range v.cells {
			all = append(all, ordered{w.days[c.day].Kill, c.farm, c.animals, w.codes(c.set)})
		}
	}
	slices.SortFunc(all, func(a, b ordered) int { return cmp.Or(cmp.Compare(a.kill, b.kill), cmp.Compare(a.farm, b.farm)) })
	return all
}

// reckon is what classes ask of a farm at the level, by the rules of package demand.
func (in Input) reckon(farm int, codes []string) (demand.Need, error) {
	d := demand.Input{Profile: in.Farms[farm].Profile, Rule: in.Rule}
	for _, c := range in.Classes {
		if slices.Contains(codes, c.Code) {
			d.Classes = append(d.Classes, c.Class)
		}
	}
	p, err := demand.Order(d)
	return [...]demand.Need{p.Sold, p.Expected, p.Full}[in.Level], err
}

// over is what so many animals of a farm leave where classes need n.
func (in Input) over(farm int, n demand.Need, animals int) over {
	o := over{sides: max(0, 2*animals-n.TakenHome.Sides)}
	if in.Farms[farm].Profile.Belly > 0 {
		o.bellies = max(0, n.BelliesLeft+2*(animals-n.Animals))
	}
	return o
}

// cuts is what is left, cut by cut.
func (in Input) cuts(farm int, o over) []carcass.Cut {
	p := in.Farms[farm].Profile
	cuts := p.Leaves(p.ForecastSides(o.sides)).Cuts
	if o.bellies > 0 {
		cuts = append(cuts, carcass.Cut{Name: "belly", Weight: p.PerBelly(in.Rule, carcass.Skinless).Belly * unit.Weight(o.bellies)})
	}
	return cuts
}

// finish reckons every order line by line and adds up.
func (in Input) finish(out *Plan, orders []ordered) error {
	type of struct {
		monday unit.Day
		farm   int
	}
	left := map[of]over{}
	var weeks []of
	for _, r := range orders {
		farm := in.Farms[r.farm]
		l := Line{Kill: r.kill, Farm: farm.Code, Name: farm.Name, Animals: r.animals, Classes: r.classes, Cost: farm.Animal() * unit.Money(r.animals)}
		var err error
		if l.Need, err = in.reckon(r.farm, r.classes); err != nil {
			return err
		}
		l.Why = append(l.Why, fmt.Sprintf("an animal: %s = %s", farm.why(), farm.Animal()))
		for _, n := range l.Need.Lines {
			l.Why = append(l.Why, strings.TrimSpace(n.Code+" "+n.Text))
		}
		if more := l.Animals - l.Need.Animals; more > 0 {
			l.Why = append(l.Why, fmt.Sprintf("%d more than the classes need: its parts sell for more than it costs", more))
		}
		at := of{r.kill.Monday(), r.farm}
		if !slices.Contains(weeks, at) {
			weeks = append(weeks, at)
		}
		left[at] = left[at].plus(in.over(r.farm, l.Need, r.animals))
		out.Bought += l.Cost
		out.Lines = append(out.Lines, l)
	}
	for _, at := range weeks {
		s := carcass.Sell(in.cuts(at.farm, left[at]), in.Outlets, 1)
		out.Sales = append(out.Sales, WeekSales{at.monday, in.Farms[at.farm].Name, s})
		out.Sold += s.Money
	}
	out.Cost = out.Bought - out.Sold
	return nil
}

// differs tells what another plan buys otherwise.
func (in Input) differs(best, other []ordered) string {
	count := func(list []ordered, like ordered) int {
		for _, o := range list {
			if o.kill == like.kill && o.farm == like.farm {
				return o.animals
			}
		}
		return 0
	}
	var more, less []string
	say := func(n int, o ordered) string {
		return fmt.Sprintf("%d from %s on %s", n, in.Farms[o.farm].Name, o.kill.Show())
	}
	for _, o := range other {
		if d := o.animals - count(best, o); d > 0 {
			more = append(more, say(d, o))
		}
	}
	for _, o := range best {
		if d := o.animals - count(other, o); d > 0 {
			less = append(less, say(d, o))
		}
	}
	switch {
	case len(more) == 0:
		return "without " + strings.Join(less, ", ")
	case len(less) == 0:
		return "with " + strings.Join(more, ", ") + " besides"
	}
	return strings.Join(more, ", ") + " instead of " + strings.Join(less, ", ")
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
		unfed := slices.ContainsFunc(p.Unfed, func(u Unfed) bool { return u.Code == c.Code })
		if unfed == (from[c.Code] != 0) {
			bad("class %s is fed and unfed, or neither", c.Code)
		}
		if !unfed && !slices.Contains(c.Kills, from[c.Code]) {
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
