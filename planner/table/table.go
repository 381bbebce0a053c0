// Package table reckons what the kitchen needs to know of a dinner: how many heads,
// what they cannot or will not eat, who has not told yet, how many take wine, and how
// much raw meat to buy.
//
// Each person counts exactly once, as none, as list or as not told; the three add up
// to the heads. "Not told" is never taken for "none": that is how a plate of the wrong
// food reaches somebody. The count is an aid to asking, not a promise of a kitchen free
// of anything.
package table

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"flitchbook/planner/unit"
)

// Answer is what a person has said about food.
type Answer int

// The answers. The zero value is NotTold, so that nothing forgotten reads as none.
const (
	NotTold Answer = iota
	None
	List
)

// Need is one thing a person cannot or will not eat.
type Need struct {
	What   string // an allergen the shop asks for, or Other
	Severe bool
	Words  string // the person's own; for Other they are the need itself
}

// Other is what a need is called that only its words name.
const Other = "other"

// Name is what the need is counted under: the allergen, or the words of another need.
func (n Need) Name() string {
	name := strings.ToLower(strings.TrimSpace(n.What))
	if name != "" && name != Other {
		return name
	}
	if words := strings.Join(strings.Fields(strings.ToLower(n.Words)), " "); words != "" {
		return words
	}
	return "other, not said what"
}

// String is the need as it is read out: "wheat (coeliac), severe".
func (n Need) String() string {
	s := n.Name()
	if words := strings.Join(strings.Fields(n.Words), " "); words != "" && !strings.EqualFold(words, s) {
		s += " (" + words + ")"
	}
	if n.Severe {
		s += ", severe"
	}
	return s
}

// Caution stands on every sheet made of a count.
const Caution = "These are the answers people gave. They are not a guarantee that the kitchen is free of anything: ask again at the table, and keep to your own written plan and the local food code."

// Person is one head at the table.
type Person struct {
	Answer Answer
	Needs  []Need
	Wine   bool // said yes to wine
	Age    int  // on the day; 0: grown up, not asked further
	Watch  bool // on a watching seat
}

// Settled is the one answer a person counts under. Anything named counts as a list,
// whatever the answer says; a list with nothing on it is not told.
func (p Person) Settled() Answer {
	switch {
	case len(p.Needs) > 0:
		return List
	case p.Answer == None:
		return None
	}
	return NotTold
}

// Line is one need and how many people have it.
type Line struct {
	Name   string
	Words  []string // what people wrote beside an allergen, each once
	People int
	Severe int // of People
}

// String is the line as it is read out: "1 wheat (coeliac), severe".
func (l Line) String() string {
	s := fmt.Sprintf("%d %s", l.People, l.Name)
	if len(l.Words) > 0 {
		s += " (" + strings.Join(l.Words, "; ") + ")"
	}
	switch {
	case l.Severe == 0:
	case l.Severe == l.People:
		s += ", severe"
	default:
		s += fmt.Sprintf(", %d of them severe", l.Severe)
	}
	return s
}

// Rules are the house rules of a count.
type Rules struct {
	Order   []string // the allergens in the order they are asked for
	WineAge int      // youngest that wine is counted for (R11)
	Grown   int      // youngest that is no minor
}

// Count is a table counted. None + List + NotTold = Heads.
type Count struct {
	Heads   int
	None    int
	List    int
	NotTold int
	Lines   []Line // severe first, then in the order asked for, then other needs by name
	Wine    int    // old enough and said yes
	NoAge   int    // of Wine, people who gave no age and count as grown up
	Minors  int
	Watch   int // on watching seats
}

// Of counts people. Their order makes no difference.
func Of(people []Person, r Rules) Count {
	c := Count{Heads: len(people)}
	lines := map[string]*Line{}
	for _, p := range people {
		switch p.Settled() {
		case None:
			c.None++
		case List:
			c.List++
		default:
			c.NotTold++
		}
		if p.Watch {
			c.Watch++
		}
		if p.Age > 0 && p.Age < r.Grown {
			c.Minors++
		}
		if p.Wine && (p.Age == 0 || p.Age >= r.WineAge) {
			c.Wine++
			if p.Age == 0 {
				c.NoAge++
			}
		}
		own := map[string]bool{} // a need named twice by one person is one, severe if either is
		for _, n := range p.Needs {
			own[n.Name()] = own[n.Name()] || n.Severe
			l := lines[n.Name()]
			if l == nil {
				l = &Line{Name: n.Name()}
				lines[l.Name] = l
			}
			if words := strings.Join(strings.Fields(n.Words), " "); words != "" && !strings.EqualFold(words, l.Name) {
				l.Words = append(l.Words, words)
			}
		}
		for name, severe := range own {
			lines[name].People++
			if severe {
				lines[name].Severe++
			}
		}
	}
	for _, l := range lines {
		slices.SortFunc(l.Words, func(a, b string) int {
			return cmp.Or(strings.Compare(strings.ToLower(a), strings.ToLower(b)), strings.Compare(a, b))
		})
		l.Words = slices.CompactFunc(l.Words, strings.EqualFold)
		c.Lines = append(c.Lines, *l)
	}
	place := func(l Line) int {
		if i := slices.Index(r.Order, l.Name); i >= 0 {
			return i
		}
		return len(r.Order)
	}
	slices.SortFunc(c.Lines, func(a, b Line) int {
		return cmp.Or(cmp.Compare(min(b.Severe, 1), min(a.Severe, 1)), cmp.Compare(place(a), place(b)), cmp.Compare(a.Name, b.Name))
	})
	return c
}

// String is the whole count in one line, for reading aloud.
func (c Count) String() string {
	var parts []string
	for _, l := range c.Lines {
		parts = append(parts, l.String())
	}
	return strings.Join(append(parts, fmt.Sprintf("%d none", c.None), fmt.Sprintf("%d not told", c.NotTold), fmt.Sprintf("%d in all", c.Heads)), " · ")
}

// Severe lists the needs somebody marked severe: dishes with them stay off this table.
func (c Count) Severe() []string {
	var names []string
	for _, l := range c.Lines {
		if l.Severe > 0 {
			names = append(names, l.Name)
		}
	}
	return names
}

// Check holds a count against what must always be true of one.
func (c Count) Check() unit.Faults {
	var f unit.Faults
	if c.None < 0 || c.List < 0 || c.NotTold < 0 || c.None+c.List+c.NotTold != c.Heads {
		f.Add("heads", fmt.Sprintf("%d none, %d with a list and %d not told are not %d heads", c.None, c.List, c.NotTold, c.Heads))
	}
	named := 0
	for _, l := range c.Lines {
		if l.People < 1 || l.People > c.List || l.Severe < 0 || l.Severe > l.People {
			f.Add("lines", fmt.Sprintf("%s: %d people, %d severe, of %d with a list", l.Name, l.People, l.Severe, c.List))
		}
		named += l.People
	}
	if named < c.List {
		f.Add("lines", fmt.Sprintf("%d people have a list but only %d needs stand on it", c.List, named))
	}
	if c.Wine > c.Heads || c.NoAge > c.Wine || c.Minors > c.Heads || c.Watch > c.Heads {
		f.Add("wine", "more people than heads")
	}
	return f
}
