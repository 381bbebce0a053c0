package smoke

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"flitchbook/planner/unit"
)

// promised gives every party its planned pack day; the shop's own have none.
func promised(day unit.Day, slabs []Slab) []Coming {
	var out []Coming
	for _, s := range slabs {
		c := Coming{Slab: s, Promise: day}
		if s.Demo() {
			c.Promise = 0
		}
		out = append(out, c)
	}
	return out
}

// S-06 in the invented shop: sixteen hooks on Fri Nov 6, and the house rule leaves K14 to
// Tuesday: 2 slabs × 4 days after Sat Nov 7. No plan does better with 17 slabs for 16
// hooks and parties whole: one of K14, K16, K17, K18 must wait, and K14 is the smallest.
func TestLookSeventeenSlabs(t *testing.T) {
	_, slabs := november("PB", "PB", "PB", "MC", "MC", "MH", "MH", "CS")
	coming := promised(day(time.November, 7), slabs)
	for i := range coming {
		if coming[i].Party == "K15" {
			coming[i].Promise = day(time.November, 11)
		}
	}
	days := []DayAhead{{day(time.November, 6), 16, 6}, {day(time.November, 10), 16, 6}, {day(time.November, 13), 18, 6}}
	o, err := Look(days, coming, DefaultWork)
	if err != nil {
		t.Fatal(err)
	}
	if o.House != (Score{8, 2}) || o.Plan != (Score{8, 2}) || o.Status != Proven || len(o.Moves()) != 0 {
		t.Errorf("house %+v, plan %+v, %s, moves %+v", o.House, o.Plan, o.Status, o.Moves())
	}
	if d := o.Days[0]; len(d.House) != 15 || d.HouseLow != 5 || len(d.Plan) != 15 || d.PlanLow != 5 {
		t.Errorf("Friday %+v", d)
	}
	// With two more of mustard & honey the bottom row keeps K16 and K18 apart. The house
	// rule hangs 13 and lets K16's four wait: 4 × 4 days. Hanging K14 + K16 + K17, nine
	// slabs, would leave K18's eight; so four is the least.
	_, slabs = november("PB", "MH", "MH", "MC", "MC", "MH", "MH", "CS")
	coming = promised(day(time.November, 7), slabs)
	o, err = Look(days, coming, DefaultWork)
	if err != nil {
		t.Fatal(err)
	}
	if len(o.Days[0].House) != 13 || o.House.LateDays != 4*4+4 || o.Plan.LateDays != o.House.LateDays {
		t.Errorf("variant: %d hang, house %+v, plan %+v", len(o.Days[0].House), o.House, o.Plan)
	}
}

// Earliest seal first is not always kindest: eight slabs sealed first and promised late
// fill the hooks, and a pair promised for the next day waits. The plan lets the eight
// wait, who lose nothing.
func TestLookFindsBetter(t *testing.T) {
	first, then := day(time.October, 1), day(time.October, 3)
	old, young := promised(day(time.October, 24), party("K1", "A", 1, first, "PB", "PB", "PB", "PB", "PB", "PB", "PB", "PB")), promised(day(time.October, 17), party("K2", "B", 1, then, "PB", "MH"))
	for i := range old {
		old[i].Earliest = day(time.October, 15)
	}
	days := []DayAhead{{day(time.October, 16), 8, 2}, {day(time.October, 20), 8, 2}}
	o, err := Look(days, slices.Concat(old, young), DefaultWork)
	if err != nil {
		t.Fatal(err)
	}
	if o.House != (Score{8, 2}) || o.Plan != (Score{0, 2}) || o.Status != Proven {
		t.Errorf("house %+v, plan %+v", o.House, o.Plan)
	}
	m := o.Moves()
	if len(m) != 2 || m[0].Party != "K1" || m[0].Plan != days[1].Day || m[1].Party != "K2" || m[1].Plan != days[0].Day || m[1].Late(m[1].House) != 4 {
		t.Errorf("moves %+v", m)
	}

	// On hold: in neither plan. Past its latest day: the first day after, and said.
	young[0].Held = true
	old[0].Latest = day(time.October, 14)
	if o, err = Look(days, slices.Concat(old, young), DefaultWork); err != nil {
		t.Fatal(err)
	}
	if fmt.Sprint(o.Held) != "[B-01 B-02]" || len(o.Stretched) != 1 || !strings.Contains(o.Stretched[0], "K1 should be out of the bag by Wed Oct 14") {
		t.Errorf("held %v, stretched %v", o.Held, o.Stretched)
	}
	// Out of its bag for a load: there it stays, whoever else would go first.
	young[0].Held, old[0].Latest = false, old[1].Latest
	young[0].Pinned, young[1].Pinned = days[0].Day, days[0].Day
	if o, err = Look(days, slices.Concat(old, young), DefaultWork); err != nil {
		t.Fatal(err)
	}
	if fmt.Sprint(o.Days[0].House) != "[B-01 B-02]" || fmt.Sprint(o.Days[0].Plan) != "[B-01 B-02]" {
		t.Errorf("pinned: %+v", o.Days[0])
	}
}

// Whatever waits: nobody is in two loads of one plan, every load of the plan may hang, the
// plan is never worse than the house rule where that keeps every latest day, and its
// score is what its days come to.
func TestLookLaws(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		start := day(time.October, 1)
		var slabs []Coming
		for k := range rapid.IntRange(1, 7).Draw(rt, "parties") {
			sealed := start + unit.Day(rapid.IntRange(0, 9).Draw(rt, "sealed"))
			held := rapid.IntRange(0, 9).Draw(rt, "held") == 0
			promise := sealed + unit.Day(rapid.IntRange(13, 22).Draw(rt, "promise"))
			for n := range rapid.IntRange(1, 4).Draw(rt, "slabs") {
				s := Slab{Tag: fmt.Sprintf("T%d-%d", k, n), Party: fmt.Sprintf("K%d", k), Sealed: sealed, Earliest: sealed + 12, Latest: sealed + 20,
					Allergen: rapid.IntRange(0, 3).Draw(rt, "allergen") == 0, Held: held}
				slabs = append(slabs, Coming{Slab: s, Promise: promise})
			}
		}
		var days []DayAhead
		for d := start + 11; d < start+40; d += unit.Day(rapid.IntRange(2, 5).Draw(rt, "gap")) {
			days = append(days, DayAhead{d, rapid.IntRange(4, 8).Draw(rt, "hooks"), rapid.IntRange(2, 4).Draw(rt, "bottom")})
		}
		o, err := Look(days, slabs, DefaultWork)
		if err != nil {
			rt.Fatal(err)
		}
		if o.NoPlan != "" {
			return
		}
		var plain []Slab
		for _, s := range slabs {
			plain = append(plain, s.Slab)
		}
		late, loads, house := 0, 0, true
		hung := map[string]bool{}
		for _, d := range o.Days {
			l, err := Taken(Day{Unbag: d.Day - 1, Hooks: d.Hooks, Bottom: d.Bottom}, plain, d.Plan, "by the plan", "by the plan")
			if err == nil {
				err = l.Fits(Day{Unbag: d.Day - 1, Hooks: d.Hooks, Bottom: d.Bottom}, plain)
			}
			if err != nil {
				rt.Fatalf("%s: %v", d.Day, err)
			}
			if len(d.Plan) > 0 {
				loads++
			}
			for _, tag := range d.Plan {
				if hung[tag] {
					rt.Fatalf("%s hangs twice", tag)
				}
				hung[tag] = true
			}
		}
		for _, s := range slabs {
			for _, st := range o.Stays {
				if st.Party == s.Party {
					late += Stay{Promise: s.Promise}.Late(st.Plan)
					house = house && (s.Held || st.House != 0 && st.House-1 <= s.Latest && st.Plan != 0)
				}
			}
		}
		if late != o.Plan.LateDays || loads != o.Plan.Loads {
			rt.Fatalf("the plan says %+v, its days %d late and %d loads", o.Plan, late, loads)
		}
		if house && (o.Plan.LateDays > o.House.LateDays || o.Plan.LateDays == o.House.LateDays && o.Plan.Loads > o.House.Loads) {
			rt.Fatalf("plan %+v, house %+v, %s", o.Plan, o.House, o.Status)
		}
	})
}

// A load that may not hang is refused by Fits, whatever made it.
func TestFitsRefuses(t *testing.T) {
	d, slabs := november("PB", "PB", "PB", "MC", "MC", "MH", "MH", "CS")
	take := func(parties ...string) []string {
		var tags []string
		for _, s := range slabs {
			if slices.Contains(parties, s.Party) {
				tags = append(tags, s.Tag)
			}
		}
		return tags
	}
	for want, tags := range map[string][]string{
		"":                              take("K14", "K16"),
		"17 slabs":                      take("K14", "K16", "K17", "K18"),
		"before its earliest unbag day": nil,
	} {
		if tags == nil {
			tags, want = take("K15"), "before its earliest unbag date"
		}
		l, err := Taken(d, slabs, tags, "the owner's choice", "the owner's choice")
		if err == nil {
			err = l.Fits(d, slabs)
		}
		if want == "" && err != nil || want != "" && (err == nil || !strings.Contains(err.Error(), want)) {
			t.Errorf("%v: %v, want %q", tags, err, want)
		}
	}
	if _, err := Taken(d, slabs, take("K14")[:1], "", ""); err == nil {
		t.Error("half a party was taken")
	}
}
