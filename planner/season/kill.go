package season

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"flitchbook/planner/unit"
)

// Call is one class's call on a kill day.
type Call struct {
	Code string
	Use  string // a name in Rules.Uses
	Day  unit.Day
}

// Group is an order: the classes that one kill day feeds, and how many animals.
type Group struct {
	Calls   []Call
	Animals int
}

// Plant is what stands in the plant's book.
type Plant struct {
	Closures []Closure
	Taken    []Taken // slots our other orders hold
}

// Closure is a span without kill, both days included.
type Closure struct {
	From, To unit.Day
	Species  []string // none = all
	Why      string
}

// Taken is slots in use on one kill day.
type Taken struct {
	Day     unit.Day
	Species string
	Animals int
}

// Candidate is one kill day looked at for a group.
type Candidate struct {
	Kill    unit.Day
	Hang    int      // days to the group's first class
	Deliver unit.Day // 0 when no delivery day fits
	OrderBy unit.Day // until the order hour of that day
	Fits    bool
	Reasons []string // why it does not fit; for a fitting day, empty
}

// Choice is a group's kill day with everything that was looked at.
type Choice struct {
	Group  Group
	Chosen Candidate   // the zero Candidate when nothing fits
	All    []Candidate // fitting days best first, then the others, latest first
	// Why says how the day was chosen; Advice what is left to do when nothing fits.
	Why, Advice string
}

// OK says whether a kill day was found.
func (c Choice) OK() bool { return c.Chosen.Fits }

// margin is how many days around the hanging window are explained, not only searched.
const margin = 3

// CheckGroup lists everything wrong with a group.
func (r Rules) CheckGroup(g Group) unit.Faults {
	var f unit.Faults
	if len(g.Calls) == 0 {
		f.Add("classes", "an order needs a class")
	}
	if g.Animals < 0 || g.Animals > 1000 {
		f.Add("animals", "animals must lie between 0 and 1000")
	}
	species := ""
	for i, c := range g.Calls {
		u, ok := r.use(c.Use)
		if !ok {
			f.Add(fmt.Sprintf("classes[%d].use", i), fmt.Sprintf("there is no use called %q", c.Use))
			continue
		}
		if c.Day == 0 {
			f.Add(fmt.Sprintf("classes[%d].day", i), "a class needs its day")
		}
		if species != "" && u.Species != species {
			f.Add(fmt.Sprintf("classes[%d].use", i), fmt.Sprintf("one order cannot feed both %s and %s classes", species, u.Species))
		}
		species = u.Species
	}
	return f
}

func (r Rules) species(g Group) string {
	u, _ := r.use(g.Calls[0].Use)
	return u.Species
}

// Candidates looks at every kill weekday in and just around the hanging window of the
// group: fitting days first, best first; then the others with their reasons. The
// order-by day itself is still in time.
func (r Rules) Candidates(g Group, today unit.Day, plant Plant, closed Closed) ([]Candidate, error) {
	if err := r.CheckGroup(g).Err(); err != nil {
		return nil, err
	}
	first := g.first()
	from := first
	for _, c := range g.Calls {
		u, _ := r.use(c.Use)
		from = min(from, c.Day-unit.Day(u.MaxHang+margin))
	}
	var all []Candidate
	for d := first - 1; d >= from; d-- {
		if slices.Contains(r.KillDays, d.Weekday()) {
			all = append(all, r.look(g, d, first, today, plant, closed))
		}
	}
	slices.SortStableFunc(all, func(a, b Candidate) int {
		if a.Fits != b.Fits {
			if a.Fits {
				return -1
			}
			return 1
		}
		if a.Fits {
			if c := cmp.Compare(r.off(g, a.Kill), r.off(g, b.Kill)); c != 0 {
				return c
			}
		}
		return cmp.Compare(b.Kill, a.Kill)
	})
	return all, nil
}

// off is how far a kill day lies from the hang the group aims at.
func (r Rules) off(g Group, kill unit.Day) int {
	sum := 0
	for _, c := range g.Calls {
		if u, _ := r.use(c.Use); u.Target > 0 {
			d := int(c.Day-kill) - u.Target
			sum += max(d, -d)
		}
	}
	return sum
}

func (r Rules) look(g Group, d, first, today unit.Day, plant Plant, closed Closed) Candidate {
	c := Candidate{Kill: d, Hang: int(first - d)}
	species, lead := r.species(g), 0
	deliverBy := first
	for _, call := range g.Calls {
		u, _ := r.use(call.Use)
		lead = max(lead, u.Lead)
		if u.CutWithin > 0 {
			deliverBy = min(deliverBy, d+unit.Day(u.CutWithin))
		}
		who := ""
		if len(g.Calls) > 1 {
			who = call.Code + ": "
		}
		switch hang := int(call.Day - d); {
		case hang < u.MinHang:
			c.no("%s%s before the class, at least %d", who, days(hang), u.MinHang)
		case hang > u.MaxHang:
			c.no("%s%s before the class, at most %d", who, days(hang), u.MaxHang)
		}
	}
	for _, cl := range plant.Closures {
		if cl.From <= d && d <= cl.To && (len(cl.Species) == 0 || slices.Contains(cl.Species, species)) {
			c.no("closed %s to %s: %s", cl.From.Show(), cl.To.Show(), cl.Why)
		}
	}
	c.Deliver = r.delivery(d, deliverBy, closed)
	if c.Deliver == 0 {
		c.no("no delivery day from %s to %s", (d + 1).Show(), deliverBy.Show())
	}
	c.OrderBy = d - unit.Day(lead)
	if c.OrderBy < today {
		c.no("order-by %s has passed, %s ago", c.OrderBy.Show(), days(int(today-c.OrderBy)))
	}
	if cap, ok := r.slots(species); ok {
		if left := cap - taken(plant, d, species); left < g.Animals {
			c.no("%d of %d slots left, %d wanted", max(left, 0), cap, g.Animals)
		}
	}
	c.Fits = len(c.Reasons) == 0
	return c
}

func taken(p Plant, d unit.Day, species string) int {
	n := 0
	for _, t := range p.Taken {
		if t.Day == d && t.Species == species {
			n += t.Animals
		}
	}
	return n
}

// delivery is the last delivery day that is in time, so that sides hang at the plant
// rather than in the shop's walk-in; 0 when there is none.
func (r Rules) delivery(kill, by unit.Day, closed Closed) unit.Day {
	if len(r.DeliveryDays) == 0 {
		if kill+1 <= by {
			return kill + 1
		}
		return 0
	}
	for d := by; d > kill; d-- {
		if slices.Contains(r.DeliveryDays, d.Weekday()) && !closed.Has(d) {
			return d
		}
	}
	return 0
}

func (c *Candidate) no(format string, args ...any) {
	c.Reasons = append(c.Reasons, fmt.Sprintf(format, args...))
}

func days(n int) string {
	if n == 1 {
		return "1 day"
	}
	return fmt.Sprintf("%d days", n)
}

// Choose picks the kill day of one group.
func (r Rules) Choose(g Group, today unit.Day, plant Plant, closed Closed) (Choice, error) {
	all, err := r.Candidates(g, today, plant, closed)
	if err != nil {
		return Choice{}, err
	}
	c := Choice{Group: g, All: all}
	if len(all) > 0 && all[0].Fits {
		c.Chosen = all[0]
		c.Why = r.why(g, c.Chosen)
		return c, nil
	}
	c.Advice = r.advice(g, today, plant)
	return c, nil
}

func (r Rules) why(g Group, c Candidate) string {
	if r.aims(g) {
		return fmt.Sprintf("the kill nearest the wanted hang: %s", days(c.Hang))
	}
	return fmt.Sprintf("the latest kill that fits: %s before the class", days(c.Hang))
}

// aims says whether a class of the group has a hang to come near to.
func (r Rules) aims(g Group) bool {
	return slices.ContainsFunc(g.Calls, func(c Call) bool { u, _ := r.use(c.Use); return u.Target > 0 })
}

// advice names the last kill before a closure that stands in the way.
func (r Rules) advice(g Group, today unit.Day, plant Plant) string {
	first, species := g.first(), r.species(g)
	start := unit.Day(0)
	for _, cl := range plant.Closures {
		if (len(cl.Species) == 0 || slices.Contains(cl.Species, species)) && cl.From < first && cl.To >= first-unit.Day(r.longest(g)) {
			if start == 0 || cl.From < start {
				start = cl.From
			}
		}
	}
	if start == 0 {
		return "move the class to a day that a kill fits"
	}
	for d := start - 1; d >= today && d > start-60; d-- {
		if slices.Contains(r.KillDays, d.Weekday()) {
			return fmt.Sprintf("the last kill before the closure is %s, %s before the class: vacuum-pack or freeze what keeps, or move the class", d.Show(), days(int(first-d)))
		}
	}
	return "no kill is left before the closure: move the class"
}

func (r Rules) longest(g Group) int {
	n := 0
	for _, c := range g.Calls {
		u, _ := r.use(c.Use)
		n = max(n, u.MaxHang)
	}
	return n
}

// Option is another class day that a kill fits.
type Option struct {
	Day    unit.Day
	Chosen Candidate
}

// Instead lists other days for a class: every class day within reach days, nearest
// first and the earlier of two equally near, then the first same weekday later that
// fits (within half a year).
func (r Rules) Instead(c Call, animals, reach int, today unit.Day, plant Plant, closed Closed) ([]Option, error) {
	try := func(d unit.Day) (Option, bool, error) {
		if d <= today || closed.Has(d) {
			return Option{}, false, nil
		}
		moved := c
		moved.Day = d
		ch, err := r.Choose(Group{[]Call{moved}, animals}, today, plant, closed)
		return Option{d, ch.Chosen}, ch.OK(), err
	}
	var options []Option
	for n := 1; n <= reach; n++ {
		for _, d := range []unit.Day{c.Day - unit.Day(n), c.Day + unit.Day(n)} {
			if !slices.Contains(r.ClassDays, d.Weekday()) {
				continue
			}
			o, ok, err := try(d)
			if err != nil {
				return nil, err
			}
			if ok {
				options = append(options, o)
			}
		}
	}
	for d := c.Day + 7; d <= c.Day+26*7; d += 7 {
		o, ok, err := try(d)
		if err != nil {
			return nil, err
		}
		if ok {
			if !slices.ContainsFunc(options, func(p Option) bool { return p.Day == o.Day }) {
				options = append(options, o)
			}
			break
		}
	}
	return options, nil
}

// OrderByAt is the moment an order must stand: the hour of its order-by day in loc.
func (c Candidate) OrderByAt(hour int, loc *time.Location) unit.Instant {
	return c.OrderBy.At(hour, 0, loc)
}

// first is the day of the group's earliest class.
func (g Group) first() unit.Day {
	first := g.Calls[0].Day
	for _, c := range g.Calls {
		first = min(first, c.Day)
	}
	return first
}

func (g Group) codes() string {
	codes := make([]string, len(g.Calls))
	for i, c := range g.Calls {
		codes[i] = c.Code
	}
	return strings.Join(codes, ", ")
}
