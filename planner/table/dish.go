package table

import (
	"fmt"
	"slices"

	"flitchbook/planner/unit"
)

// Dish is one dish of a dinner.
type Dish struct {
	Name  string
	Holds []string // allergens, in the words they are asked for
	Board string   // what it lies on together with others, which touch it; "" lies alone
}

// Away lists what the dish holds of the needs somebody marked severe: with any, it stays off
// the whole table (house rule R13).
func (d Dish) Away(severe []string) (out []string) {
	for _, a := range d.Holds {
		if slices.Contains(severe, a) {
			out = append(out, a)
		}
	}
	return out
}

// Mark is how a dish stands to one need of the table.
type Mark int

// The marks. Ask is a need that only its words name: no list of allergens answers it.
const (
	Free    Mark = iota // does not hold it
	Holds               // holds it
	Touches             // lies on a board with a dish that holds it
	Ask
)

// Laid is a dish against everybody at the table.
type Laid struct {
	Dish
	Away   []string // severe needs it holds: it stays off this table (house rule R13)
	Marks  []Mark   // one for each line of the count, in its order
	Cannot int      // people with a need it holds or touches, each once
	Unsure int      // other people to ask: not told, or with a need only words name
}

// Cross lays dishes against the people of a count made by Of. A dish that holds what
// somebody marked severe goes away for the whole table, since family style means shared
// spoons; what is away touches nothing on its board any more. A dish that only touches a
// severe allergen through its board cannot exist: the one that holds it is away.
func Cross(people []Person, c Count, r Rules, dishes []Dish) []Laid {
	severe := c.Severe()
	out := make([]Laid, 0, len(dishes))
	for _, d := range dishes {
		out = append(out, Laid{Dish: d, Away: d.Away(severe)})
	}
	for i := range out {
		l := &out[i]
		mark := func(need string) Mark {
			switch {
			case slices.Contains(l.Holds, need):
				return Holds
			case slices.ContainsFunc(out, func(o Laid) bool {
				return l.Board != "" && o.Board == l.Board && o.Name != l.Name && len(o.Away) == 0 && slices.Contains(o.Dish.Holds, need)
			}):
				return Touches
			case !slices.Contains(r.Order, need):
				return Ask
			}
			return Free
		}
		for _, line := range c.Lines {
			l.Marks = append(l.Marks, mark(line.Name))
		}
		for _, p := range people {
			cannot, ask := false, p.Settled() == NotTold
			for _, n := range p.Needs {
				switch mark(n.Name()) {
				case Holds, Touches:
					cannot = true
				case Ask:
					ask = true
				}
			}
			switch {
			case cannot:
				l.Cannot++
			case ask:
				l.Unsure++
			}
		}
	}
	return out
}

// CheckLaid holds dishes laid against a count to what must always be true: nothing that
// holds a severe need is on the table, and nobody is counted twice.
func CheckLaid(c Count, laid []Laid) unit.Faults {
	var f unit.Faults
	for _, l := range laid {
		if len(l.Marks) != len(c.Lines) {
			f.Add(l.Name, fmt.Sprintf("%d marks for %d needs", len(l.Marks), len(c.Lines)))
			continue
		}
		for i, line := range c.Lines {
			if line.Severe > 0 && l.Marks[i] != Free && l.Marks[i] != Ask && !slices.Contains(l.Away, line.Name) {
				f.Add(l.Name, fmt.Sprintf("is on the table with %s, which somebody marked severe", line.Name))
			}
		}
		if l.Cannot < 0 || l.Unsure < c.NotTold || l.Cannot+l.Unsure > c.Heads {
			f.Add(l.Name, fmt.Sprintf("%d cannot and %d to ask of %d heads, %d not told", l.Cannot, l.Unsure, c.Heads, c.NotTold))
		}
	}
	return f
}
