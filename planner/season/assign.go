package season

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"flitchbook/planner/unit"
)

// Assign chooses kill days for a whole season. Orders compete only for slots, so the
// search walks them in class order and remembers, for every state of the slots still
// in play, the best that the remaining orders can do. That is exact: as many orders
// fed as possible, and among those ways the fewest steps down each order's own list.
// The choices come back in the order of groups.
func (r Rules) Assign(groups []Group, today unit.Day, plant Plant, closed Closed) ([]Choice, error) {
	var faults unit.Faults
	choices := make([]Choice, len(groups))
	for i, g := range groups {
		c, err := r.Choose(g, today, plant, closed)
		if err != nil {
			if f, ok := err.(unit.Faults); ok {
				faults.Under(fmt.Sprintf("[%d]", i), f)
				continue
			}
			return nil, err
		}
		choices[i] = c
	}
	if err := faults.Err(); err != nil {
		return nil, err
	}

	a := assigner{rules: r, plant: plant, seen: map[string]best{}}
	for i := range choices {
		a.jobs = append(a.jobs, job{at: i, choice: &choices[i], species: r.species(groups[i])})
	}
	slices.SortFunc(a.jobs, func(x, y job) int {
		if c := cmp.Compare(x.choice.Group.first(), y.choice.Group.first()); c != 0 {
			return c
		}
		return strings.Compare(x.choice.Group.codes(), y.choice.Group.codes())
	})
	a.wants = make([]map[place]bool, len(a.jobs))
	later := map[place]bool{}
	for i := len(a.jobs) - 1; i >= 0; i-- {
		for k, c := range a.jobs[i].choice.All {
			if _, limited := r.slots(a.jobs[i].species); c.Fits && limited {
				later[a.place(i, k)] = true
			}
		}
		a.wants[i] = maps.Clone(later)
	}
	used := map[place]int{}
	for i := range a.jobs {
		b := a.solve(i, used)
		c := a.jobs[i].choice
		if b.pick < 0 {
			if c.OK() { // it had days of its own, all given to others
				c.Chosen = Candidate{}
				c.Advice = "its kill days are full with other orders: split the order or move the class"
				for k := range c.All {
					if c.All[k].Fits {
						c.All[k].no("its slots go to other orders of the season")
						c.All[k].Fits = false
					}
				}
			}
			continue
		}
		c.Chosen = c.All[b.pick]
		used[a.place(i, b.pick)] += c.Group.Animals
	}
	a.explain()
	return choices, nil
}

type job struct {
	at      int
	choice  *Choice
	species string
}

type place struct {
	species string
	day     unit.Day
}

// best is what the orders from one on can do: pick is the candidate for the first of
// them, or −1 when it goes without.
type best struct{ unfed, steps, pick int }

type assigner struct {
	rules Rules
	plant Plant
	jobs  []job
	wants []map[place]bool // slots that the orders from i on could still want
	seen  map[string]best
}

func (a *assigner) place(i, k int) place {
	return place{a.jobs[i].species, a.jobs[i].choice.All[k].Kill}
}

// explain says, for every order that steps down its list, who has the better days.
func (a *assigner) explain() {
	for i := range a.jobs {
		c := a.jobs[i].choice
		for k, better := range c.All {
			if !c.OK() || better.Kill == c.Chosen.Kill {
				break
			}
			var holders []string
			for j := range a.jobs {
				o := a.jobs[j].choice
				if j != i && o.OK() && o.Chosen.Kill == better.Kill && a.jobs[j].species == a.jobs[i].species {
					holders = append(holders, o.Group.codes())
				}
			}
			if k == 0 {
				c.Why = ""
			}
			c.Why += fmt.Sprintf("%s would fit, but its slots go to %s; ", better.Kill.Show(), strings.Join(holders, ", "))
		}
		if c.OK() && strings.HasSuffix(c.Why, "; ") {
			c.Why += fmt.Sprintf("the next best is %s", c.Chosen.Kill.Show())
		}
		if !c.OK() {
			c.Why = ""
		}
	}
}

func (a *assigner) solve(i int, used map[place]int) best {
	if i == len(a.jobs) {
		return best{pick: -1}
	}
	key := a.key(i, used)
	if b, ok := a.seen[key]; ok {
		return b
	}
	c := a.jobs[i].choice
	found := best{unfed: len(a.jobs) + 1}
	for k, cand := range c.All {
		if !cand.Fits || found.unfed == 0 && found.steps <= k {
			break // no later candidate can do better
		}
		p := a.place(i, k)
		if cap, ok := a.rules.slots(p.species); ok && taken(a.plant, p.day, p.species)+used[p]+c.Group.Animals > cap {
			continue
		}
		used[p] += c.Group.Animals
		rest := a.solve(i+1, used)
		used[p] -= c.Group.Animals
		rest.steps, rest.pick = rest.steps+k, k
		if found.better(rest) {
			found = rest
		}
	}
	if found.unfed > 0 {
		rest := a.solve(i+1, used)
		rest.unfed, rest.pick = rest.unfed+1, -1
		if found.better(rest) {
			found = rest
		}
	}
	a.seen[key] = found
	return found
}

// better says whether b is strictly better than f: equal ways keep the first found.
func (f best) better(b best) bool {
	return b.unfed < f.unfed || b.unfed == f.unfed && b.steps < f.steps
}

// key names the slots in use that the orders from i on could still want.
func (a *assigner) key(i int, used map[place]int) string {
	var parts []string
	for p, n := range used {
		if n > 0 && a.wants[i][p] {
			parts = append(parts, fmt.Sprintf("%s/%d=%d", p.species, p.day, n))
		}
	}
	slices.Sort(parts)
	return fmt.Sprintf("%d %s", i, strings.Join(parts, " "))
}
