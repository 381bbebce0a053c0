package order

import (
	"errors"
	"fmt"
	"slices"

	"flitchbook/planner/integer"
	"flitchbook/planner/unit"
)

// Options of a search. The zero Options looks for one plan until it is proven.
type Options struct {
	integer.Limit
	Plans int // how many plans to find, different in what is bought; at least 1
	// Gap ends the search once the plan is proven to lie within Gap parts per million
	// of the best; 0 proves it best.
	Gap int64
	// Near is so much work spent on finding, among all purchases as cheap as the best,
	// one whose classes get their meat nearer to the days wanted. With 0 equal purchases
	// are taken as they come and only the uses of each are brought near.
	Near int64
}

// Status of an answer.
type Status string

// The two ways a search ends well.
const (
	Proven Status = "proven" // no plan is cheaper
	Limit  Status = "limit"  // a limit was hit: Cost and Bound say how far it may be off
)

// Answer is the best plan found, the next best ones, and why.
type Answer struct {
	Plan
	Status  Status
	Next    []Plan
	Left    []Left   // offers that could not be used at all
	Reasons []Reason // of Plan, line by line
	Work    int64
}

// Reason explains one line of a plan with figures that can be checked with a pencil.
type Reason struct {
	Of   string // "offer 12", "class 3", "all"
	Text string
}

// ErrNoPlan is wrapped by *Short.
var ErrNoPlan = errors.New("no plan feeds every class")

// ErrNoneYet is returned when the limit was hit before any plan was found.
var ErrNoneYet = errors.New("no plan was found within the limit; there may be one")

// Short says why there is no plan.
type Short struct{ Why []string }

func (s *Short) Error() string {
	text := ErrNoPlan.Error()
	for _, w := range s.Why {
		text += "; " + w
	}
	return text
}

// Unwrap returns ErrNoPlan.
func (s *Short) Unwrap() error { return ErrNoPlan }

// Solve finds the cheapest plan. The error is unit.Faults for a problem that makes no
// sense, *Short when no plan can feed every class, ErrNoneYet, or a plan that did not
// pass Check: that one is a mistake in here.
func Solve(p Problem, opt Options) (Answer, error) {
	if err := p.Faults().Err(); err != nil {
		return Answer{}, err
	}
	m := build(&p)
	if short := m.starved(); len(short) > 0 {
		return Answer{}, &Short{short}
	}
	found, err := integer.Solve(&m.prog, integer.Options{Limit: opt.Limit, Key: m.key(), Plans: max(1, opt.Plans), Gap: opt.Gap})
	if err != nil {
		return Answer{}, err
	}
	switch {
	case found.Status == integer.Infeasible:
		return Answer{}, &Short{[]string{"each class alone could be fed, but not all of them together: slots, caps, cooler or freezer are too small"}}
	case len(found.Found) == 0:
		return Answer{}, ErrNoneYet
	}
	a := Answer{Status: Limit, Work: found.Work}
	if found.Status == integer.Proven {
		a.Status = Proven
	}
	for i, f := range m.settled(found.Found, opt.Near) {
		plan := m.plan(f.X)
		plan.Bound, plan.Proven = unit.Money(f.Bound), f.Proven
		if wrong := Check(p, plan); len(wrong) > 0 {
			return Answer{}, fmt.Errorf("order: plan %d does not pass its check: %s", i+1, wrong[0])
		}
		if i == 0 {
			a.Plan = plan
		} else {
			a.Next = append(a.Next, plan)
		}
	}
	for o, why := range m.why {
		if why != "" {
			a.Left = append(a.Left, Left{p.Offers[o].ID, why})
		}
	}
	a.Reasons = reasons(&p, a.Plan)
	return a, nil
}

// LP is the problem as a program of whole numbers in LP format, for other solvers. The
// error is unit.Faults, or *Short when some class cannot be fed at all.
func LP(p Problem) ([]byte, error) {
	if err := p.Faults().Err(); err != nil {
		return nil, err
	}
	m := build(&p)
	if short := m.starved(); len(short) > 0 {
		return nil, &Short{short}
	}
	return m.prog.LP(), nil
}

// key is the columns that make plans different: what is bought.
func (m *model) key() []int {
	var key []int
	for _, u := range m.units {
		key = append(key, u.col)
	}
	return key
}

// settleWork bounds the search for the best days among equally cheap uses of one
// purchase; it hardly ever takes a hundredth of that.
const settleWork = 5000

// settled brings the plans' days between delivery and class as near to the wanted ones
// as it can. With near another purchase of the same cost may take the best one's place,
// which then stands next.
func (m *model) settled(found []integer.Found, near int64) []integer.Found {
	list := slices.Clone(found)
	if best := list[0]; best.Proven && near > 0 {
		best.X = m.nearer(best, false, near)
		at := slices.IndexFunc(list, func(f integer.Found) bool { return m.sameBuying(f.X, best.X) })
		if at < 0 {
			at = len(list) - 1
		}
		list = slices.Insert(slices.Delete(list, at, at+1), 0, best)
	}
	for i, f := range list {
		list[i].X = m.nearer(f, true, settleWork)
	}
	return list
}

func (m *model) sameBuying(a, b []int64) bool {
	return !slices.ContainsFunc(m.units, func(u unitsCol) bool { return a[u.col] != b[u.col] })
}

// nearer is a plan of the same cost, of the same purchase too if that is to be kept,
// whose days lie nearer to the wanted ones.
func (m *model) nearer(f integer.Found, keep bool, work int64) []int64 {
	q := integer.Program{Cols: slices.Clone(m.prog.Cols), Rows: slices.Clone(m.prog.Rows)}
	var price []integer.Term
	for j := range q.Cols {
		c := &q.Cols[j]
		if c.Cost != 0 {
			price = append(price, integer.Term{Col: j, Coef: c.Cost})
		}
		c.Cost = 0
	}
	q.Row("cost", f.Cost, f.Cost, price...)
	for _, u := range m.units {
		if keep {
			q.Cols[u.col].Lo, q.Cols[u.col].Hi = f.X[u.col], f.X[u.col]
		}
	}
	p := m.p
	for _, u := range m.fresh {
		age := p.Classes[u.class].Day - p.Offers[u.offer].Day
		off := age - p.Kinds[u.kind].Target
		q.Cols[u.col].Cost = int64(max(off, -off))
	}
	for _, u := range m.frozen {
		q.Cols[u.col].Cost = int64(p.Classes[u.class].Day - p.Offers[u.offer].Day)
	}
	for _, z := range m.in { // days frozen are those of leaving less those of coming
		q.Cols[z.col].Cost = -int64(p.Offers[z.offer].Day)
	}
	for _, u := range m.out {
		q.Cols[u.col].Cost = int64(p.Classes[u.class].Day)
	}
	a, err := integer.Solve(&q, integer.Options{Start: [][]int64{f.X}, Key: m.key(), Limit: integer.Limit{Work: work}})
	if err != nil || len(a.Found) == 0 {
		return f.X
	}
	return a.Found[0].X
}

// starved names classes that nothing could feed even if they were alone.
func (m *model) starved() (short []string) {
	p := m.p
	for c := range p.Classes {
		cl := &p.Classes[c]
		for k := range p.Kinds {
			kind := &p.Kinds[k]
			n := cl.need(kind.Name)
			if n == 0 {
				continue
			}
			can, late, out := 0, 0, 0
			for o := range p.Offers {
				most := m.most[o][k]
				if most == 0 || !cl.takes(p.Offers[o].ID) || cl.OneOffer && most < n {
					continue
				}
				age := cl.Day - p.Offers[o].Day
				switch fits := kind.freshAt(age) || cl.frozenAt(kind, age); {
				case fits && m.usable[o]:
					can += most
				case fits:
					late++
				default:
					out++
				}
			}
			if can < n {
				text := fmt.Sprintf("class %s on %s needs %d %s, at most %d can be had", cl.ID, p.day(cl.Day), n, kind.Name, can)
				text += fmt.Sprintf(" (fresh wants a delivery %d to %d days before", kind.FreshMin, kind.FreshMax)
				if kind.FrozenMax > kind.FreshMax && slices.Contains(cl.FrozenOK, kind.Name) {
					text += fmt.Sprintf(", frozen at most %d", kind.FrozenMax)
				}
				if late > 0 {
					text += fmt.Sprintf("; %d offers that fit are too late to order", late)
				}
				if out > 0 {
					text += fmt.Sprintf("; %d offers come on other days", out)
				}
				short = append(short, text+")")
			}
		}
	}
	return short
}
