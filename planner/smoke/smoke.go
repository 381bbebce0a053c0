// Package smoke chooses what hangs in one smoke load, and on which hooks.
//
// # Choosing (house rules)
//
// Slabs with the earlier seal date go first. Within one seal date parties hang whole
// or not at all: of all sets of parties that fit the hooks and the bottom row, the
// one that fills most hooks; of equal sets, sort each set's booking numbers, and the
// smaller number at the first difference wins. Slabs whose pick carries an allergen
// hang only in the bottom row, so that nothing drips from them onto others. After
// all parties, demo slabs fill what is left, in tag order. The rest goes to the next
// load.
//
// A slab on hold moves nowhere, and one whose earliest unbag date lies after the
// load's unbag date is not ready; either keeps its whole party back, because a party
// is not split. The owner may lift a hold or take a slab out of the party; this
// package does not.
//
// # Method
//
// One seal date is a two-dimensional knapsack (hooks, bottom row) solved exactly by
// dynamic programming over the parties in booking order, from the last to the first;
// walking forward and taking a party whenever the best is still within reach gives
// the set the tie rule wants. Load.Check decides the same by other means and is run
// before a load is stored.
//
// # All loads ahead
//
// PlanAhead looks over all smoke days to come: promises first (fewest late days), then
// fewest loads, proven. Plan.Check looks at such a plan apart from the search.
//
// Smoked here is heat-treated, not fully cooked.
package smoke

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"flitchbook/planner/unit"
)

// A Slab waits for smoke.
type Slab struct {
	Tag      string
	Party    string   // booking number; "" for a demo slab
	Sealed   unit.Day // day 0 of its cure
	Earliest unit.Day // earliest unbag date
	Latest   unit.Day // latest unbag date; none = not watched
	Allergen bool     // its pick carries one: bottom row only
	Held     bool     // on hold
}

// Demo says whether the slab is the shop's own from a class.
func (s Slab) Demo() bool { return s.Party == "" }

// A Day is one smoke day's room for class slabs.
type Day struct {
	Unbag  unit.Day // when its slabs leave the bag
	Hooks  int      // hooks for class slabs, the shop's own bacon taken off
	Bottom int      // of those, hooks in the bottom row
}

// A Group is a whole party of one seal date, with what became of it and why.
type Group struct {
	Party  string
	Sealed unit.Day
	Tags   []string // in tag order
	Bottom int      // of them, slabs that need the bottom row
	Why    string
}

// A Load is what hangs and what waits.
type Load struct {
	Groups  []Group // in the order chosen: seal date, then booking number
	Demos   []string
	Waiting []Group // parties, then demo slabs one by one
	Hooks   int     // used
	Bottom  int     // bottom-row hooks that must be used
	Free    int     // hooks left over
}

// Tags lists the slabs that hang, parties first.
func (l Load) Tags() []string {
	var tags []string
	for _, g := range l.Groups {
		tags = append(tags, g.Tags...)
	}
	return append(tags, l.Demos...)
}

// check reports slabs and days that cannot be planned, all at once.
func check(d Day, slabs []Slab) error {
	var f unit.Faults
	if d.Hooks < 0 || d.Hooks > maxHooks {
		f.Add("hooks", fmt.Sprintf("there cannot be %d hooks (0 to %d)", d.Hooks, maxHooks))
	}
	if d.Bottom < 0 || d.Bottom > d.Hooks {
		f.Add("bottom", fmt.Sprintf("there cannot be %d bottom-row hooks of %d", d.Bottom, d.Hooks))
	}
	if d.Unbag == 0 {
		f.Add("unbag", "a load needs its unbag date")
	}
	seen := map[string]bool{}
	for i, s := range slabs {
		at := fmt.Sprintf("slabs[%d]", i)
		switch {
		case s.Tag == "":
			f.Add(at+".tag", "a slab without a tag hangs nowhere")
		case seen[s.Tag]:
			f.Add(at+".tag", fmt.Sprintf("slab %s is listed twice", s.Tag))
		}
		seen[s.Tag] = true
		if s.Sealed == 0 || s.Earliest == 0 {
			f.Add(at+".sealed", fmt.Sprintf("slab %s needs its seal date and earliest unbag date", s.Tag))
		}
		if s.Demo() && s.Allergen {
			f.Add(at+".allergen", fmt.Sprintf("demo slab %s is plain and cannot carry an allergen", s.Tag))
		}
	}
	return f.Err()
}

// maxHooks bounds the reckoning, far beyond any smokehouse of a shop.
const maxHooks = 200

// Choose fills one load. The error is unit.Faults naming every wrong field.
func Choose(d Day, slabs []Slab) (Load, error) {
	if err := check(d, slabs); err != nil {
		return Load{}, err
	}
	groups, demos := sorted(slabs)
	var l Load
	hooks, bottom := d.Hooks, d.Bottom
	for len(groups) > 0 {
		n := 1
		for n < len(groups) && groups[n].Sealed == groups[0].Sealed {
			n++
		}
		date := groups[:n]
		groups = groups[n:]
		var fit []group
		for _, g := range date {
			if why := g.back(d); why != "" {
				l.Waiting = append(l.Waiting, g.with(why))
				continue
			}
			fit = append(fit, g)
		}
		chosen, best := fill(fit, hooks, bottom)
		for i, g := range fit {
			if chosen[i] {
				g.Why = fmt.Sprintf("sealed %s, %s", g.Sealed.Show(), hookCount(len(g.Tags)))
				if g.Bottom > 0 {
					g.Why += fmt.Sprintf(", %d in the bottom row", g.Bottom)
				}
				if last := g.last(); last != 0 && last < d.Unbag {
					g.Why += "; it should have been out of the bag by " + last.Show()
				}
				l.Groups = append(l.Groups, g.Group)
			} else {
				l.Waiting = append(l.Waiting, g.with(g.left(d, hooks, bottom, best)))
			}
		}
		for i, g := range fit {
			if chosen[i] {
				hooks -= len(g.Tags)
				bottom -= g.Bottom
			}
		}
	}
	for _, s := range demos {
		one := group{Group: Group{Sealed: s.Sealed, Tags: []string{s.Tag}}, slabs: []Slab{s}}
		switch why := one.back(d); {
		case why != "":
			l.Waiting = append(l.Waiting, one.with(why))
		case hooks == 0:
			l.Waiting = append(l.Waiting, one.with("no hook is left, and demo slabs come after all parties"))
		default:
			l.Demos = append(l.Demos, s.Tag)
			hooks--
		}
	}
	l.Free, l.Hooks, l.Bottom = hooks, d.Hooks-hooks, d.Bottom-bottom
	return l, nil
}

type group struct {
	Group
	slabs []Slab
}

// with is the group that waits, for that reason.
func (g group) with(why string) Group {
	if last := g.last(); last != 0 {
		why += "; out of the bag by " + last.Show() + " at the latest"
	}
	g.Group.Why = why
	return g.Group
}

// last is the first of the group's latest unbag dates, or none. It only warns.
func (g group) last() unit.Day {
	var last unit.Day
	for _, s := range g.slabs {
		if s.Latest != 0 && (last == 0 || s.Latest < last) {
			last = s.Latest
		}
	}
	return last
}

// back says why a group cannot hang on the day at all, or "".
func (g group) back(d Day) string {
	for _, s := range g.slabs {
		if s.Held {
			return fmt.Sprintf("%s is on hold%s", s.Tag, g.whole())
		}
	}
	for _, s := range g.slabs {
		if s.Earliest > d.Unbag {
			return fmt.Sprintf("%s may leave its bag on %s at the earliest, after the unbag of %s%s", s.Tag, s.Earliest.Show(), d.Unbag.Show(), g.whole())
		}
	}
	return ""
}

func (g group) whole() string {
	if len(g.slabs) > 1 {
		return ", and its party stays whole"
	}
	return ""
}

// left says why a group that could hang was not chosen.
func (g group) left(d Day, hooks, bottom, best int) string {
	n := len(g.Tags)
	switch {
	case n > hooks:
		return fmt.Sprintf("needs %s whole and %d of %d are left", hookCount(n), hooks, d.Hooks)
	case g.Bottom > bottom:
		return fmt.Sprintf("needs %s in the bottom row and %d of %d are left", hookCount(g.Bottom), bottom, d.Bottom)
	}
	return fmt.Sprintf("the best set of parties sealed %s fills %d of %s left without it (%d in all, %d in the bottom row)",
		g.Sealed.Show(), best, hookCount(hooks), n, g.Bottom)
}

func hookCount(n int) string {
	if n == 1 {
		return "1 hook"
	}
	return fmt.Sprintf("%d hooks", n)
}

// sorted groups the slabs by seal date and party, both in order, and lists the demo
// slabs by tag.
func sorted(slabs []Slab) ([]group, []Slab) {
	slabs = slices.Clone(slabs)
	slices.SortFunc(slabs, func(a, b Slab) int {
		return cmp.Or(cmp.Compare(a.Sealed, b.Sealed), CompareNumbers(a.Party, b.Party), CompareNumbers(a.Tag, b.Tag))
	})
	var groups []group
	var demos []Slab
	for _, s := range slabs {
		if s.Demo() {
			demos = append(demos, s)
			continue
		}
		if n := len(groups); n == 0 || groups[n-1].Sealed != s.Sealed || groups[n-1].Party != s.Party {
			groups = append(groups, group{Group: Group{Party: s.Party, Sealed: s.Sealed}})
		}
		g := &groups[len(groups)-1]
		g.slabs = append(g.slabs, s)
		g.Tags = append(g.Tags, s.Tag)
		if s.Allergen {
			g.Bottom++
		}
	}
	slices.SortFunc(demos, func(a, b Slab) int { return CompareNumbers(a.Tag, b.Tag) })
	return groups, demos
}

// CompareNumbers orders booking numbers and tags the way people read them: runs of
// digits by their worth, so that K9 comes before K10; the rest by its letters. Texts
// that read the same but for leading zeros are ordered by their letters.
func CompareNumbers(a, b string) int {
	x, y := a, b
	for x != "" && y != "" {
		i, j := lead(x), lead(y)
		if i > 0 && j > 0 {
			m, n := strings.TrimLeft(x[:i], "0"), strings.TrimLeft(y[:j], "0")
			if c := cmp.Or(cmp.Compare(len(m), len(n)), strings.Compare(m, n)); c != 0 {
				return c
			}
			x, y = x[i:], y[j:]
			continue
		}
		if c := cmp.Compare(x[0], y[0]); c != 0 {
			return c
		}
		x, y = x[1:], y[1:]
	}
	return cmp.Or(cmp.Compare(len(x), len(y)), strings.Compare(a, b))
}

// lead is the length of the digits s starts with.
func lead(s string) int {
	i := 0
	for i < len(s) && '0' <= s[i] && s[i] <= '9' {
		i++
	}
	return i
}
