package smoke

import (
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"flitchbook/planner/unit"
)

func day(month time.Month, d int) unit.Day { return unit.DayOf(2026, month, d) }

// party makes a booking's slabs, sealed on a day, from its picks. In the invented
// shop the jars MH, SC and CS carry mustard, sesame and celery.
func party(booking, class string, first int, sealed unit.Day, picks ...string) []Slab {
	var out []Slab
	for i, p := range picks {
		out = append(out, Slab{
			Tag: fmt.Sprintf("%s-%02d", class, first+i), Party: booking, Sealed: sealed,
			Earliest: sealed + 12, Latest: sealed + 20, Allergen: p == "MH" || p == "SC" || p == "CS",
		})
	}
	return out
}

// The invented shop on Wed Nov 4 2026: seventeen slabs of Oct 24 and one of Oct 27,
// sixteen hooks on Fri Nov 6, slabs out of the bag on Thu Nov 5 (house rules).
func november(k18 ...string) (Day, []Slab) {
	oct24 := day(time.October, 24)
	slabs := slices.Concat(
		party("K18", "P2", 1, oct24, k18...),
		party("K15", "B3", 3, day(time.October, 27), "JT"),
		party("K17", "B3", 8, oct24, "PL", "GP", "GP"),
		party("K14", "B3", 1, oct24, "PB", "MC"),
		party("K16", "B3", 4, oct24, "MH", "SC", "PB", "FO"),
	)
	rail, err := NewRail(24, 6, 8)
	if err != nil {
		panic(err)
	}
	return rail.Day(day(time.November, 5)), slabs
}

func names(gs []Group) string {
	var out []string
	for _, g := range gs {
		out = append(out, g.Party)
	}
	return strings.Join(out, " ")
}

func why(t *testing.T, l Load, party string) string {
	t.Helper()
	for _, g := range slices.Concat(l.Groups, l.Waiting) {
		if g.Party == party {
			return g.Why
		}
	}
	t.Fatalf("party %s is nowhere", party)
	return ""
}

func choose(t *testing.T, d Day, slabs []Slab) Load {
	t.Helper()
	l, err := Choose(d, slabs)
	if err != nil {
		t.Fatal(err)
	}
	if err := l.Check(d, slabs); err != nil {
		t.Fatalf("Check: %v in %+v", err, l)
	}
	return l
}

func TestSeventeenSlabsSixteenHooks(t *testing.T) {
	d, slabs := november("PB", "PB", "PB", "MC", "MC", "MH", "MH", "CS")
	l := choose(t, d, slabs)
	if names(l.Groups) != "K16 K17 K18" || l.Hooks != 15 || l.Bottom != 5 || l.Free != 1 {
		t.Errorf("hangs %s on %d hooks, %d in the bottom row, %d free", names(l.Groups), l.Hooks, l.Bottom, l.Free)
	}
	if names(l.Waiting) != "K14 K15" {
		t.Errorf("waits: %s", names(l.Waiting))
	}
	for party, want := range map[string]string{
		"K14": "fills 15 of 16 hooks left without it",
		"K15": "on Sun Nov 8 at the earliest, after the unbag of Thu Nov 5",
		"K18": "8 hooks, 3 in the bottom row",
	} {
		if got := why(t, l, party); !strings.Contains(got, want) {
			t.Errorf("%s: %q, want %q", party, got, want)
		}
	}
	if got := why(t, l, "K14"); !strings.Contains(got, "by Fri Nov 13 at the latest") {
		t.Errorf("K14: %q does not warn of its last day", got)
	}

	// The next load, Tue Nov 10, unbag Mon Nov 9: 3 of 16.
	left := slices.DeleteFunc(slices.Clone(slabs), func(s Slab) bool { return s.Party != "K14" && s.Party != "K15" })
	d.Unbag = day(time.November, 9)
	if l := choose(t, d, left); names(l.Groups) != "K14 K15" || l.Hooks != 3 {
		t.Errorf("Tuesday hangs %s on %d hooks", names(l.Groups), l.Hooks)
	}
}

func TestBottomRowDecides(t *testing.T) {
	d, slabs := november("PB", "MH", "MH", "MC", "MC", "MH", "MH", "CS")
	l := choose(t, d, slabs)
	if names(l.Groups) != "K14 K17 K18" || l.Hooks != 13 || l.Bottom != 5 {
		t.Errorf("hangs %s on %d hooks, %d in the bottom row", names(l.Groups), l.Hooks, l.Bottom)
	}
	if got := why(t, l, "K16"); !strings.Contains(got, "fills 13 of 16 hooks left without it (4 in all, 2 in the bottom row)") {
		t.Errorf("K16: %q", got)
	}
}

// Tue Dec 1 in the invented shop's story of the open cooler door: ten slabs cured
// again and sealed Nov 13 go first, and the six hooks left fill exactly.
func TestCuredAgainGoFirst(t *testing.T) {
	nov13, nov14 := day(time.November, 13), day(time.November, 14)
	slabs := slices.Concat(
		party("K24", "B5", 1, nov13, "PB", "MH"), party("K25", "B5", 3, nov13, "PB", "JT", "MC"), party("K26", "B5", 6, nov13, "GP"),
		party("K27", "B5", 7, nov13, "PB", "FO"), party("K28", "B5", 9, nov13, "CS", "PL"),
		party("K30", "B6", 1, nov14, "PB", "GP"), party("K31", "B6", 3, nov14, "JT", "JT"), party("K32", "B6", 5, nov14, "SC"),
		party("K33", "B6", 6, nov14, "PB", "MC", "PL"), party("", "B6", 9, nov14, "PL"),
		party("K34", "B7", 1, nov14, "FO", "FO", "MC", "PB", "GP"), party("K35", "B7", 6, nov14, "MH", "PB"), party("K36", "B7", 8, nov14, "PL"), party("", "B7", 9, nov14, "PL"),
	)
	l := choose(t, Day{Unbag: day(time.November, 30), Hooks: 16, Bottom: 6}, slabs)
	if names(l.Groups) != "K24 K25 K26 K27 K28 K30 K31 K32 K36" || l.Hooks != 16 || len(l.Demos) != 0 {
		t.Errorf("hangs %s and %v", names(l.Groups), l.Demos)
	}
	if got := names(l.Waiting); got != "K33 K34 K35  " {
		t.Errorf("waits %q", got)
	}
	if got := why(t, l, "K34"); !strings.Contains(got, "fills 6 of 6 hooks left without it") {
		t.Errorf("K34: %q", got)
	}
}

func TestDemosHeldAndTies(t *testing.T) {
	sealed := day(time.October, 10)
	d := Day{Unbag: day(time.October, 22), Hooks: 4, Bottom: 1}
	two := func(p string) []Slab { return party(p, p, 1, sealed, "PB", "PB") }

	// K9 and K10 and K8, two each, four hooks: K8 and K9, read as numbers.
	l := choose(t, d, slices.Concat(two("K10"), two("K9"), two("K8")))
	if names(l.Groups) != "K8 K9" {
		t.Errorf("tie went to %s", names(l.Groups))
	}

	// A held slab keeps its party back, and a demo slab fills in, in tag order.
	held := two("K8")
	held[1].Held = true
	demos := slices.Concat(party("", "B10", 12, sealed, "PL"), party("", "B2", 12, sealed, "PL"), party("", "B9", 12, sealed-3, "PL"))
	l = choose(t, d, slices.Concat(held, two("K9"), demos))
	if names(l.Groups) != "K9" || !slices.Equal(l.Demos, []string{"B2-12", "B9-12"}) || l.Free != 0 {
		t.Errorf("hangs %s, demos %v", names(l.Groups), l.Demos)
	}
	if got := why(t, l, "K8"); !strings.Contains(got, "K8-02 is on hold, and its party stays whole") {
		t.Errorf("K8: %q", got)
	}
	// A demo slab never keeps out a party, even one sealed later.
	later := party("K11", "B4", 1, sealed+0, "PB", "PB")
	l = choose(t, d, slices.Concat(demos, later, two("K9")))
	if len(l.Demos) != 0 || l.Hooks != 4 {
		t.Errorf("demos %v beside %s", l.Demos, names(l.Groups))
	}
	// Allergen slabs beyond the bottom row wait even with hooks free.
	l = choose(t, d, slices.Concat(party("K1", "B1", 1, sealed, "MH", "SC"), party("K2", "B1", 3, sealed, "PB")))
	if names(l.Groups) != "K2" || !strings.Contains(why(t, l, "K1"), "needs 2 hooks in the bottom row and 1 of 1 are left") {
		t.Errorf("hangs %s; K1: %q", names(l.Groups), why(t, l, "K1"))
	}
	if l := choose(t, d, nil); l.Hooks != 0 || l.Free != 4 {
		t.Errorf("an empty load: %+v", l)
	}
}

func TestWrongInput(t *testing.T) {
	s := party("K1", "B1", 1, day(time.October, 10), "PB")[0]
	none, demo, undated := s, s, s
	none.Tag = ""
	demo.Tag, demo.Party, demo.Allergen = "B1-12", "", true
	undated.Tag, undated.Sealed = "B1-03", 0
	_, err := Choose(Day{Hooks: 4, Bottom: 5}, []Slab{s, s, none, demo, undated})
	var f unit.Faults
	if !errors.As(err, &f) || len(f) != 6 {
		t.Errorf("faults %v", err)
	}
	if _, err := Choose(Day{Unbag: 1, Hooks: -1}, nil); err == nil {
		t.Error("fewer than no hooks were accepted")
	}
}

func TestCompareNumbers(t *testing.T) {
	order := []string{"", "9", "10", "B2-09", "B2-9", "B2-10", "B10-01", "K1", "K01a", "K9", "K10", "KA"}
	for i, a := range order {
		for j, b := range order {
			if got := CompareNumbers(a, b); got != sign(i-j) {
				t.Errorf("CompareNumbers(%q, %q) = %d", a, b, got)
			}
		}
	}
}

func sign(n int) int {
	switch {
	case n < 0:
		return -1
	case n > 0:
		return 1
	}
	return 0
}

func TestHooks(t *testing.T) {
	d, slabs := november("PB", "PB", "PB", "MC", "MC", "MH", "MH", "CS")
	rail, _ := NewRail(24, 6, 8)
	if !slices.Equal(rail.Bottom, []int{19, 20, 21, 22, 23, 24}) || rail.Top[0] != 9 {
		t.Fatalf("rail %+v", rail)
	}
	l := choose(t, d, slabs)
	hung, err := Assign(l, slabs, rail)
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]int{}
	used := map[int]bool{}
	for _, h := range hung {
		got[h.Tag] = h.Hook
		if used[h.Hook] {
			t.Errorf("hook %d is used twice", h.Hook)
		}
		used[h.Hook] = true
	}
	if len(got) != 15 {
		t.Fatalf("%d slabs hang", len(got))
	}
	for _, s := range slabs {
		if hook := got[s.Tag]; hook != 0 && s.Allergen != (hook >= 19) {
			t.Errorf("%s, allergen %v, hangs on %d", s.Tag, s.Allergen, hook)
		}
	}
	// With the top full, plain slabs go on down, after the crusts.
	full := party("K1", "B1", 1, day(time.October, 10), "PB", "PB", "PB", "MH")
	small, _ := NewRail(4, 2, 0)
	l = choose(t, small.Day(day(time.October, 22)), full)
	hung, err = Assign(l, full, small)
	if want := []Hanging{{"B1-01", 1}, {"B1-02", 2}, {"B1-04", 3}, {"B1-03", 4}}; err != nil || !reflect.DeepEqual(hung, want) {
		t.Errorf("hangs %v, %v, want %v", hung, err, want)
	}
	if _, err := Assign(l, full, Rail{Top: []int{1, 2}, Bottom: []int{4}}); err == nil {
		t.Error("four slabs on three hooks")
	}
	if _, err := Assign(l, full, Rail{Top: []int{1, 2, 3, 4}}); err == nil {
		t.Error("an allergen crust above the bottom row")
	}
	if _, err := Assign(l, full[:3], small); err == nil {
		t.Error("an unknown slab was hung")
	}
	for _, bad := range [][3]int{{-1, 0, 0}, {4, 5, 0}, {24, 6, 19}, {24, 6, -1}, {100_000, 6, 0}} {
		if _, err := NewRail(bad[0], bad[1], bad[2]); err == nil {
			t.Errorf("rail %v was accepted", bad)
		}
	}
}

func TestCheckCatches(t *testing.T) {
	d, slabs := november("PB", "PB", "PB", "MC", "MC", "MH", "MH", "CS")
	good := choose(t, d, slabs)
	for name, spoil := range map[string]func(*Load){
		"split party": func(l *Load) { l.Groups[0].Tags = l.Groups[0].Tags[1:] },
		"twice":       func(l *Load) { l.Demos = append(l.Demos, l.Groups[0].Tags[0]) },
		"unknown":     func(l *Load) { l.Demos = append(l.Demos, "B9-99") },
		"too early":   func(l *Load) { l.Groups = append(l.Groups, l.Waiting[1]); l.Waiting = l.Waiting[:1] },
		"poorer set": func(l *Load) {
			l.Groups[0], l.Waiting[0] = l.Waiting[0], l.Groups[0]
			l.Hooks, l.Free = 13, 3
			l.Bottom = 3
		},
		"lost":           func(l *Load) { l.Waiting = l.Waiting[:1] },
		"no reason":      func(l *Load) { l.Waiting[0].Why = "" },
		"count":          func(l *Load) { l.Free = 2 },
		"guest as demo":  func(l *Load) { l.Demos, l.Groups = l.Groups[2].Tags, l.Groups[:2] },
		"waiting, hangs": func(l *Load) { l.Waiting[0] = l.Groups[0] },
	} {
		l := good
		l.Groups, l.Waiting = slices.Clone(l.Groups), slices.Clone(l.Waiting)
		spoil(&l)
		if l.Check(d, slabs) == nil {
			t.Errorf("%s: Check found nothing", name)
		}
	}
	// A tie decided the wrong way round.
	sealed := day(time.October, 10)
	tie := slices.Concat(party("K1", "B1", 1, sealed, "PB", "PB"), party("K2", "B1", 3, sealed, "PB", "PB"))
	td := Day{Unbag: sealed + 12, Hooks: 2}
	l := choose(t, td, tie)
	l.Groups, l.Waiting = l.Waiting, l.Groups
	if l.Check(td, tie) == nil {
		t.Error("a wrong tie passed")
	}
	demos := slices.Concat(party("", "B1", 1, sealed, "PL"), party("", "B1", 2, sealed, "PL"))
	td.Hooks = 1
	l = choose(t, td, demos)
	l.Demos, l.Waiting[0].Tags = []string{"B1-02"}, []string{"B1-01"}
	if l.Check(td, demos) == nil {
		t.Error("demo slabs out of order passed")
	}
	l = choose(t, td, demos)
	l.Waiting = append(l.Waiting, Group{Tags: l.Demos, Why: "spoiled"})
	l.Demos, l.Hooks, l.Free = nil, 0, 1
	if l.Check(td, demos) == nil {
		t.Error("an idle hook passed")
	}
}

// brute tries every set of parties of each seal date in turn.
func brute(d Day, slabs []Slab) []string {
	type set struct {
		sizes, bottoms int
		tags           []string
		numbers        []string
	}
	dates := map[unit.Day]map[string][]Slab{}
	for _, s := range slabs {
		if !s.Demo() {
			if dates[s.Sealed] == nil {
				dates[s.Sealed] = map[string][]Slab{}
			}
			dates[s.Sealed][s.Party] = append(dates[s.Sealed][s.Party], s)
		}
	}
	var order []unit.Day
	for k := range dates {
		order = append(order, k)
	}
	slices.Sort(order)
	hooks, bottom := d.Hooks, d.Bottom
	var tags []string
	for _, k := range order {
		var ps []string
		for p := range dates[k] {
			ps = append(ps, p)
		}
		slices.SortFunc(ps, CompareNumbers)
		best := set{}
		for mask := 0; mask < 1<<len(ps); mask++ {
			var c set
			ok := true
			for i, p := range ps {
				if mask>>i&1 == 0 {
					continue
				}
				c.numbers = append(c.numbers, p)
				for _, s := range dates[k][p] {
					ok = ok && !s.Held && s.Earliest <= d.Unbag
					c.sizes++
					if s.Allergen {
						c.bottoms++
					}
					c.tags = append(c.tags, s.Tag)
				}
			}
			if !ok || c.sizes > hooks || c.bottoms > bottom {
				continue
			}
			if c.sizes > best.sizes || c.sizes == best.sizes && slices.CompareFunc(c.numbers, best.numbers, CompareNumbers) < 0 {
				best = c
			}
		}
		hooks, bottom = hooks-best.sizes, bottom-best.bottoms
		tags = append(tags, best.tags...)
	}
	var demos []string
	for _, s := range slabs {
		if s.Demo() && !s.Held && s.Earliest <= d.Unbag {
			demos = append(demos, s.Tag)
		}
	}
	slices.SortFunc(demos, CompareNumbers)
	return append(tags, demos[:min(hooks, len(demos))]...)
}

func draw(t *rapid.T) (Day, []Slab) {
	base := day(time.October, 10)
	d := Day{Unbag: base + 14, Hooks: rapid.IntRange(0, 20).Draw(t, "hooks")}
	d.Bottom = rapid.IntRange(0, min(6, d.Hooks)).Draw(t, "bottom")
	var slabs []Slab
	for i := range rapid.IntRange(0, 9).Draw(t, "parties") {
		sealed := base + unit.Day(rapid.IntRange(0, 2).Draw(t, "sealed"))
		number := fmt.Sprintf("K%d", rapid.IntRange(1, 12).Draw(t, "number"))
		if rapid.IntRange(0, 7).Draw(t, "demo") == 7 {
			number = ""
		}
		for j := range rapid.IntRange(1, 6).Draw(t, "slabs") {
			s := Slab{Tag: fmt.Sprintf("B%d-%d", i, j), Party: number, Sealed: sealed, Earliest: sealed + 12}
			s.Allergen = number != "" && rapid.IntRange(0, 3).Draw(t, "allergen") == 3
			s.Held = rapid.IntRange(0, 29).Draw(t, "held") == 29
			if rapid.IntRange(0, 19).Draw(t, "early") == 19 {
				s.Earliest = d.Unbag + 1
			}
			slabs = append(slabs, s)
		}
	}
	return d, slabs
}

func TestAgainstEverySet(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, slabs := draw(t)
		l, err := Choose(d, slabs)
		if err != nil {
			t.Fatal(err)
		}
		if err := l.Check(d, slabs); err != nil {
			t.Fatalf("Check: %v in %+v", err, l)
		}
		got, want := l.Tags(), brute(d, slabs)
		slices.Sort(got)
		slices.Sort(want)
		if !slices.Equal(got, want) {
			t.Fatalf("hangs %v, every set tried gives %v", got, want)
		}
		// The order of the slabs is irrelevant.
		mixed := rapid.Permutation(slabs).Draw(t, "mixed")
		again, err := Choose(d, mixed)
		if err != nil || !reflect.DeepEqual(l, again) {
			t.Fatalf("another order of slabs gives %+v, not %+v", again, l)
		}
		// One more hook never hangs less.
		more := d
		more.Hooks++
		if m, err := Choose(more, slabs); err != nil || m.Hooks < l.Hooks && len(slabs) > 0 && oneDate(slabs) {
			t.Fatalf("a hook more hangs %d, not %d (%v)", m.Hooks, l.Hooks, err)
		}
		// The pairing keeps the rows.
		rail := Rail{}
		for n := 1; n <= d.Hooks; n++ {
			if n <= d.Hooks-d.Bottom {
				rail.Top = append(rail.Top, n)
			} else {
				rail.Bottom = append(rail.Bottom, n)
			}
		}
		hung, err := Assign(l, slabs, rail)
		if err != nil || len(hung) != l.Hooks {
			t.Fatalf("%d of %d hang: %v", len(hung), l.Hooks, err)
		}
	})
}

func oneDate(slabs []Slab) bool {
	for _, s := range slabs {
		if s.Sealed != slabs[0].Sealed {
			return false
		}
	}
	return true
}
