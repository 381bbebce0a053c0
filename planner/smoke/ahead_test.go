package smoke

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"flitchbook/planner/steadytest"
	"flitchbook/planner/unit"
)

// instance reads one of the invented problems (testdata/smoke/README.md).
func instance(t testing.TB, name string) Ahead {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join("../../testdata/smoke", name+".json"))
	if err != nil {
		t.Fatal(err)
	}
	var in struct {
		Hooks    int
		PerDay   int `json:"per_day"`
		MaxWait  int `json:"max_wait"`
		Open     []int
		Conflict [][2]string
		Slabs    []struct {
			ID, Ready, Pickup int
			Group             string
		}
	}
	if err := json.Unmarshal(raw, &in); err != nil {
		t.Fatal(err)
	}
	a := Ahead{Conflict: in.Conflict}
	for _, d := range in.Open {
		a.Open = append(a.Open, OpenDay{d, in.PerDay, in.Hooks, in.Hooks})
	}
	for _, s := range in.Slabs {
		a.Slabs = append(a.Slabs, Due{ID: s.ID, Group: s.Group, Ready: s.Ready, Last: s.Ready + in.MaxWait, Pickup: s.Pickup})
	}
	return a
}

// Invented problems whose optima two solvers from outside have proven. Each is reached
// and proven here. Fewest loads first would be the trap: sm-50-s1 then makes 49 late
// days.
func TestAheadOptima(t *testing.T) {
	for _, row := range []struct {
		name              string
		slabs, late, want int
	}{{"sm-50-s1", 50, 0, 8}, {"sm-50-s2", 50, 0, 7}, {"sm-200-s1", 200, 0, 31}} {
		t.Run(row.name, func(t *testing.T) {
			a := instance(t, row.name)
			p, err := PlanAhead(a, DefaultWork)
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("%d steps", p.Work)
			if len(a.Slabs) != row.slabs || p.Status != Proven || p.LateDays != row.late || p.Loads != row.want || p.Bound != row.want || p.LateBound != row.late {
				t.Errorf("%d slabs, %s: %d late days, %d loads, bounds %d and %d", len(a.Slabs), p.Status, p.LateDays, p.Loads, p.LateBound, p.Bound)
			}
			if err := p.Check(a); err != nil {
				t.Error(err)
			}
			shuffled := a
			shuffled.Slabs, shuffled.Open = slices.Clone(a.Slabs), slices.Clone(a.Open)
			slices.Reverse(shuffled.Slabs)
			slices.Reverse(shuffled.Open)
			if q, err := PlanAhead(shuffled, DefaultWork); err != nil || !reflect.DeepEqual(p, q) {
				t.Errorf("the order of the slabs changes the plan: %v", err)
			}
		})
	}
}

// crowd is a random season of about slabs slabs, on so few loads that some are late.
func crowd(r *rand.Rand, slabs, days, hooks, loads int, parties bool) Ahead {
	groups := []string{"plain", "maple", "pepper", "chili", "juniper", "fish"}
	a := Ahead{Conflict: [][2]string{{"fish", "plain"}, {"fish", "maple"}, {"fish", "pepper"}, {"maple", "chili"}, {"plain", "chili"}}}
	for d := range days {
		if d%7 < 5 {
			a.Open = append(a.Open, OpenDay{d, loads, hooks - r.IntN(2), hooks / 3})
		}
	}
	for i := 0; i < slabs; {
		n, name := 1, ""
		if parties && r.IntN(3) == 0 {
			n, name = 1+r.IntN(3), fmt.Sprint("K", i)
		}
		s := Due{Party: name, Ready: r.IntN(max(1, days-12))}
		s.Last, s.Pickup = s.Ready+5+r.IntN(8), s.Ready+1+r.IntN(8)
		for range n {
			s.ID, s.Group = i, groups[min(r.IntN(7), r.IntN(6))]
			if name != "" && s.Group == "fish" {
				s.Group = "pepper"
			}
			if name != "" && s.Group == "chili" {
				s.Group = "juniper"
			}
			s.Allergen = r.IntN(6) == 0
			a.Slabs = append(a.Slabs, s)
			i++
		}
	}
	return a
}

// best is the least late days and loads by trying every place for every party, or
// false when there is no plan. It shares nothing with the search.
func best(a Ahead) (late, loads int, ok bool) {
	type party struct{ slabs []Due }
	var parties []party
	names := map[string]int{}
	for _, s := range a.Slabs {
		if k, ok := names[s.Party]; ok && s.Party != "" {
			parties[k].slabs = append(parties[k].slabs, s)
			continue
		}
		names[s.Party] = len(parties)
		parties = append(parties, party{[]Due{s}})
	}
	type box struct {
		day  int
		most OpenDay
		in   []Due
	}
	var boxes []box
	for _, o := range a.Open {
		for range o.Loads {
			boxes = append(boxes, box{day: o.Day, most: o})
		}
	}
	var try func(k, late int)
	bestLate, bestLoads := 1<<30, 0
	try = func(k, late int) {
		if late > bestLate {
			return
		}
		if k == len(parties) {
			n := 0
			for _, b := range boxes {
				if len(b.in) > 0 {
					n++
				}
			}
			if !ok || late < bestLate || n < bestLoads {
				bestLate, bestLoads, ok = late, n, true
			}
			return
		}
		for i := range boxes {
			b := &boxes[i]
			was := b.in
			b.in = append(slices.Clone(was), parties[k].slabs...)
			fits, more, low := len(b.in) <= b.most.Hooks, 0, 0
			for _, s := range b.in {
				if s.Allergen {
					low++
				}
				for _, u := range b.in {
					fits = fits && !slices.Contains(a.Conflict, [2]string{s.Group, u.Group})
				}
			}
			for _, s := range parties[k].slabs {
				fits = fits && s.Ready <= b.day && b.day <= s.Last
				more += max(0, b.day+1-s.Pickup)
			}
			if fits && low <= b.most.Bottom {
				try(k+1, late+more)
			}
			b.in = was
		}
	}
	try(0, 0)
	return bestLate, bestLoads, ok
}

func TestAheadAgainstEveryPlan(t *testing.T) {
	steadytest.Runs(t, "1500")
	plans, none, tardy := 0, 0, 0
	rapid.Check(t, func(t *rapid.T) {
		var a Ahead
		draw := func(name string, lo, hi int) int { return rapid.IntRange(lo, hi).Draw(t, name) }
		boxes := 0
		for d := 0; d < 8 && boxes < 6; d++ {
			if draw("open", 0, 2) == 0 {
				continue
			}
			o := OpenDay{Day: d, Loads: draw("loads", 0, 2), Hooks: draw("hooks", 1, 4)}
			o.Bottom = draw("bottom", 0, o.Hooks)
			boxes += o.Loads
			a.Open = append(a.Open, o)
		}
		groups := []string{"a", "b", "c", "d"}
		for i := range groups {
			for k := range i {
				if draw("conflict", 0, 2) == 0 {
					a.Conflict = append(a.Conflict, [2]string{groups[i], groups[k]})
				}
			}
		}
		for i := range draw("slabs", 0, 7) {
			s := Due{ID: i, Group: groups[draw("group", 0, 3)], Ready: draw("ready", 0, 5), Allergen: draw("allergen", 0, 3) == 0}
			s.Last, s.Pickup = s.Ready+draw("wait", 0, 6), s.Ready+draw("promise", -1, 6)
			if draw("party", 0, 2) == 0 {
				s.Party = fmt.Sprint("K", draw("which", 1, 2))
			}
			a.Slabs = append(a.Slabs, s)
		}
		late, loads, ok := best(a)
		p, err := PlanAhead(a, 0)
		switch {
		case !ok:
			none++
			if !errors.Is(err, ErrNoPlan) {
				t.Fatalf("%v, and there is no plan", err)
			}
		case err != nil:
			t.Fatal(err)
		case p.Status != Proven || p.LateDays != late || p.Loads != loads:
			t.Fatalf("%s: %d late days, %d loads; every plan tried: %d, %d", p.Status, p.LateDays, p.Loads, late, loads)
		default:
			plans++
			if late > 0 {
				tardy++
			}
		}
	})
	t.Logf("%d plans, %d of them late; %d without a plan", plans, tardy, none)
	if plans < 300 || tardy < 100 || none < 50 {
		t.Error("the draw tries too little")
	}
}

// Crowded seasons, also with parties: every plan passes its check, and one hurried is
// never better than its bounds say, nor called proven when it is not.
func TestAheadCrowds(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	limited := 0
	for i := range 12 {
		a := crowd(r, 30+10*i%60, 35, 6, 2, i%2 == 1)
		full, err := PlanAhead(a, 30_000_000)
		if errors.Is(err, ErrNoPlan) {
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%d slabs: %s, %d late days, %d loads, bounds %d and %d, %d steps", len(a.Slabs), full.Status, full.LateDays, full.Loads, full.LateBound, full.Bound, full.Work)
		for _, work := range []int64{1, 300, full.Work / 2, full.Work * 9 / 10, full.Work - 1} {
			p, err := PlanAhead(a, work)
			if errors.Is(err, ErrNoneYet) {
				continue
			}
			if err != nil {
				t.Fatal(err)
			}
			if p.Status == Limit {
				limited++
			}
			worse := cmp.Or(cmp.Compare(p.LateDays, full.LateDays), cmp.Compare(p.Loads, full.Loads))
			if full.Status == Proven && (worse < 0 || p.LateBound > full.LateDays || p.Status == Proven && worse != 0) ||
				p.LateDays == full.LateDays && p.Bound > full.Loads {
				t.Errorf("%d steps: %s, %d late days, %d loads, bounds %d and %d", work, p.Status, p.LateDays, p.Loads, p.LateBound, p.Bound)
			}
		}
	}
	if limited == 0 {
		t.Error("no plan was hurried")
	}
}

// Check catches every plan that was tampered with.
func TestAheadCheckCatches(t *testing.T) {
	a := instance(t, "sm-50-s1")
	a.Slabs[0].Party, a.Slabs[1].Party = "K1", "K1"
	for what, tamper := range map[string]func(p *Plan){
		"not open":           func(p *Plan) { p.Batches[0].Day = 0 },
		"run twice":          func(p *Plan) { p.Batches[1].Day, p.Batches[1].Slot = p.Batches[0].Day, p.Batches[0].Slot },
		"more than 2":        func(p *Plan) { p.Batches[0].Slot = 2 },
		"hangs nowhere":      func(p *Plan) { p.Batches[0].Slabs = p.Batches[0].Slabs[1:] },
		"hangs on day":       func(p *Plan) { p.Batches[0].Slabs = append(p.Batches[0].Slabs, p.Batches[0].Slabs[0]) },
		"none of the slabs":  func(p *Plan) { p.Batches[0].Slabs[0] = 999 },
		"is empty":           func(p *Plan) { p.Batches[0].Slabs = nil },
		"late days":          func(p *Plan) { p.LateDays++ },
		"the plan says":      func(p *Plan) { p.Loads++ },
		"with bounds":        func(p *Plan) { p.Bound-- },
		"limit, with bounds": func(p *Plan) { p.Status = Limit },
		"outside":            func(p *Plan) { b := p.Batches; b[0].Slabs, b[len(b)-1].Slabs = b[len(b)-1].Slabs, b[0].Slabs },
		"share load": func(p *Plan) {
			for i, s := range a.Slabs {
				if s.Group == "fish" {
					for k := range p.Batches {
						p.Batches[k].Slabs = slices.DeleteFunc(p.Batches[k].Slabs, func(id int) bool { return id == a.Slabs[i].ID })
						if d := p.Batches[k].Day; d >= s.Ready && d <= s.Last && a.Slabs[p.Batches[k].Slabs[0]].Group == "plain" {
							p.Batches[k].Slabs = append(p.Batches[k].Slabs, s.ID)
							return
						}
					}
				}
			}
		},
	} {
		p, err := PlanAhead(a, DefaultWork)
		if err != nil {
			t.Fatal(err)
		}
		tamper(&p)
		if err := p.Check(a); err == nil || !strings.Contains(err.Error(), what) {
			t.Errorf("%s: %v", what, err)
		}
	}
}

func TestAheadRefuses(t *testing.T) {
	good := func() Ahead {
		return Ahead{Open: []OpenDay{{3, 1, 2, 1}, {4, 1, 2, 1}}, Conflict: [][2]string{{"a", "b"}},
			Slabs: []Due{{1, "", "a", 1, 9, 5, false}, {2, "K1", "a", 1, 9, 5, true}}}
	}
	for want, spoil := range map[string]func(a *Ahead){
		"open[1]: day 3 is listed twice":                                    func(a *Ahead) { a.Open[1].Day = 3 },
		"there cannot be 9 loads":                                           func(a *Ahead) { a.Open[0].Loads = 9 },
		"there cannot be 2 hooks, 3 of them":                                func(a *Ahead) { a.Open[0].Bottom = 3 },
		`conflict[0]: "a" cannot be kept from itself`:                       func(a *Ahead) { a.Conflict[0][1] = "a" },
		"slabs[1].id: slab 1 is listed twice":                               func(a *Ahead) { a.Slabs[1].ID = 1 },
		"no plan hangs every slab: slab 1 has no smoke day":                 func(a *Ahead) { a.Slabs[0].Last = 2 },
		"party K1 of 2 is coated with things that never share":              func(a *Ahead) { a.Slabs[0].Party, a.Slabs[0].Group = "K1", "b" },
		"party K1 of 2 has no smoke day":                                    func(a *Ahead) { a.Slabs[0].Party, a.Slabs[0].Allergen = "K1", true },
		"each could hang alone, but not all of them on the hooks there are": func(a *Ahead) { a.Open = a.Open[:1]; a.Slabs[1].Group = "b" },
		"out of reach": func(a *Ahead) { a.Slabs[0].Ready = 1 << 40 },
	} {
		a := good()
		spoil(&a)
		_, err := PlanAhead(a, 0)
		var f unit.Faults
		if err == nil || !strings.Contains(err.Error(), want) || !errors.As(err, &f) && !errors.Is(err, ErrNoPlan) {
			t.Errorf("%v, want %q", err, want)
		}
	}
	if p, err := PlanAhead(good(), 0); err != nil || p.Loads != 1 || p.Status != Proven {
		t.Errorf("%+v, %v", p, err)
	}
	if p, err := PlanAhead(Ahead{}, 0); err != nil || p.Loads != 0 || p.Status != Proven {
		t.Errorf("nothing to do: %+v, %v", p, err)
	}
}
