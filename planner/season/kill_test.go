package season

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"flitchbook/planner/unit"
)

func day(t testing.TB, s string) unit.Day {
	t.Helper()
	d, err := unit.ParseDay(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// weekdays of the example plants differ from the demo shop's, and they deliver the day
// after the kill.
func plantRules(kill []time.Weekday, u Use) Rules {
	r := DefaultRules()
	r.KillDays, r.DeliveryDays, r.Uses, r.Slots = kill, nil, []Use{u}, nil
	return r
}

// Rows E-D1 to E-D6. Source: the candidate-date rule is a project rule, "min hang ≤
// class − kill ≤ max hang, kill weekday, no blackout, kill − lead ≥ today"; the dates
// are worked by hand on a calendar. Hanging spans: pork 2–7 days common practice, beef
// 14–21 beef-council leaflet, lamb 3–10 common practice; leads: planning defaults,
// common practice; the deer-season closure: a plant's newsletter.
func TestDateExamples(t *testing.T) {
	tueWed := []time.Weekday{time.Tuesday, time.Wednesday}
	pork := Use{Name: "class", Species: "pig", MinHang: 2, MaxHang: 7, Lead: 45}
	for _, row := range []struct {
		id     string
		rules  Rules
		class  string
		today  string
		closed *Closure
		want   []string // kill, hang, order-by; best first
		reason string   // a reason given for some date when nothing fits
		advice string
	}{
		{id: "E-D1", rules: plantRules(tueWed, pork), class: "2026-03-14", today: "2026-01-20",
			want: []string{"2026-03-11 3 2026-01-25", "2026-03-10 4 2026-01-24"}},
		{id: "E-D2", rules: plantRules(tueWed, pork), class: "2026-03-14", today: "2026-02-01",
			reason: "2026-03-11: order-by Sun Jan 25 has passed, 7 days ago"},
		{id: "E-D3", rules: plantRules(tueWed, Use{Name: "class", Species: "beef", MinHang: 14, MaxHang: 21, Target: 17, Lead: 60}),
			class: "2026-03-14", today: "2026-01-05",
			reason: "2026-02-25: order-by Sat Dec 27 has passed, 9 days ago"},
		{id: "E-D4", rules: plantRules(tueWed, pork), class: "2026-11-28", today: "2026-08-01",
			closed: &Closure{From: day(t, "2026-11-16"), To: day(t, "2026-12-31"), Why: "deer season"},
			reason: "2026-11-25: closed Mon Nov 16 to Thu Dec 31: deer season",
			advice: "the last kill before the closure is Wed Nov 11, 17 days before the class: vacuum-pack or freeze"},
		{id: "E-D5", rules: plantRules([]time.Weekday{time.Monday, time.Thursday}, Use{Name: "class", Species: "lamb", MinHang: 3, MaxHang: 10, Lead: 30}),
			class: "2026-04-18", today: "2026-03-01",
			want: []string{"2026-04-13 5 2026-03-14", "2026-04-09 9 2026-03-10"}},
		// The decision date is the order-by of the chosen kill.
		{id: "E-D6", rules: plantRules([]time.Weekday{time.Monday}, Use{Name: "class", Species: "lamb", MinHang: 3, MaxHang: 10, Lead: 30}),
			class: "2026-04-18", today: "2026-03-14",
			want: []string{"2026-04-13 5 2026-03-14"}},
	} {
		t.Run(row.id, func(t *testing.T) {
			var plant Plant
			if row.closed != nil {
				plant.Closures = []Closure{*row.closed}
			}
			c, err := row.rules.Choose(Group{[]Call{{"X", "class", day(t, row.class)}}, 1}, day(t, row.today), plant, nil)
			if err != nil {
				t.Fatal(err)
			}
			var got, reasons []string
			for _, k := range c.All {
				if k.Fits {
					got = append(got, strings.Join([]string{k.Kill.String(), itoa(k.Hang), k.OrderBy.String()}, " "))
				}
				for _, r := range k.Reasons {
					reasons = append(reasons, k.Kill.String()+": "+r)
				}
			}
			if strings.Join(got, ", ") != strings.Join(row.want, ", ") {
				t.Errorf("kill days %v, want %v (reasons %q)", got, row.want, reasons)
			}
			if c.OK() != (len(row.want) > 0) {
				t.Errorf("OK = %v", c.OK())
			}
			if row.reason != "" && !contains(reasons, row.reason) {
				t.Errorf("reasons %q lack %q", reasons, row.reason)
			}
			if !strings.HasPrefix(c.Advice, row.advice) {
				t.Errorf("advice %q, want %q", c.Advice, row.advice)
			}
		})
	}
}

// E-D3 also says which dates would have fitted, nearest 17 days first, but for lead.
func TestBeefPrefersTarget(t *testing.T) {
	r := plantRules([]time.Weekday{time.Tuesday, time.Wednesday}, Use{Name: "class", Species: "beef", MinHang: 14, MaxHang: 21, Target: 17})
	c, err := r.Choose(Group{[]Call{{"X", "class", day(t, "2026-03-14")}}, 1}, day(t, "2026-01-05"), Plant{}, nil)
	if err != nil || c.Chosen.Kill != day(t, "2026-02-25") || c.Chosen.Hang != 17 || c.All[1].Kill != day(t, "2026-02-24") || c.All[1].Hang != 18 {
		t.Errorf("chosen %+v, then %+v, %v", c.Chosen, c.All[1], err)
	}
}

// The demo shop's calendar (house scenario, section "Calendar, animals"): which
// classes share an order, and the kill, delivery and order-by days it prints.
var calendar = []struct {
	classes, kill, deliver, orderBy string
	animals                         int
}{
	{"B1", "2026-10-07", "2026-10-08", "2026-09-16", 2},
	{"D1 B2", "2026-10-13", "2026-10-15", "2026-09-22", 2},
	{"D2", "2026-10-14", "2026-10-22", "2026-08-30", 1},
	{"B3 P2", "2026-10-21", "2026-10-22", "2026-09-30", 4},
	{"D3 B4", "2026-10-27", "2026-10-29", "2026-10-06", 2},
	{"D4", "2026-10-28", "2026-11-05", "2026-10-07", 1},
	{"B5", "2026-11-04", "2026-11-05", "2026-10-14", 2},
	{"D5", "2026-10-27", "2026-11-12", "2026-08-28", 1},
	{"B6 B7", "2026-11-10", "2026-11-12", "2026-10-20", 4},
	{"D6 B8", "2026-11-11", "2026-11-12", "2026-10-21", 2},
}

var demoCalls = map[string]struct{ use, day string }{
	"B1": {"bacon", "2026-10-10"}, "B2": {"bacon", "2026-10-17"}, "B3": {"bacon", "2026-10-24"}, "P2": {"bacon", "2026-10-24"},
	"B4": {"bacon", "2026-10-31"}, "B5": {"bacon", "2026-11-07"}, "B6": {"bacon", "2026-11-14"}, "B7": {"bacon", "2026-11-14"}, "B8": {"bacon", "2026-11-21"},
	"D1": {"pig clinic", "2026-10-15"}, "D2": {"venison clinic", "2026-10-22"}, "D3": {"pig clinic", "2026-10-29"},
	"D4": {"lamb clinic", "2026-11-05"}, "D5": {"beef clinic", "2026-11-12"}, "D6": {"pig clinic", "2026-11-18"},
}

func deerSeason(t testing.TB) Plant {
	return Plant{Closures: []Closure{{From: day(t, "2026-11-16"), To: day(t, "2026-11-29"), Species: []string{"pig", "beef"}, Why: "deer season"}}}
}

var demoClosed = Closed{
	unit.DayOf(2026, 11, 26): "holiday", unit.DayOf(2026, 11, 27): "holiday", unit.DayOf(2026, 12, 25): "holiday",
}

func demoGroups(t testing.TB) []Group {
	var groups []Group
	for _, row := range calendar {
		g := Group{Animals: row.animals}
		for _, code := range strings.Fields(row.classes) {
			g.Calls = append(g.Calls, Call{code, demoCalls[code].use, day(t, demoCalls[code].day)})
		}
		groups = append(groups, g)
	}
	return groups
}

func TestDemoKillDays(t *testing.T) {
	choices, err := DefaultRules().Assign(demoGroups(t), day(t, "2026-08-01"), deerSeason(t), demoClosed)
	if err != nil {
		t.Fatal(err)
	}
	for i, row := range calendar {
		c := choices[i].Chosen
		if c.Kill.String() != row.kill || c.Deliver.String() != row.deliver || c.OrderBy.String() != row.orderBy {
			t.Errorf("%s: kill %s, delivered %s, order by %s; want %s, %s, %s", row.classes, c.Kill, c.Deliver, c.OrderBy, row.kill, row.deliver, row.orderBy)
		}
	}
	for i, want := range map[int]string{
		0: "the latest kill that fits: 3 days before the class",
		7: "the kill nearest the wanted hang: 16 days",
		8: "Wed Nov 11 would fit, but its slots go to D6, B8; the next best is Tue Nov 10",
	} {
		if choices[i].Why != want {
			t.Errorf("%s: %q, want %q", calendar[i].classes, choices[i].Why, want)
		}
	}
	loc, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}
	if got := choices[0].Chosen.OrderByAt(17, loc).Show(loc); got != "Wed Sep 16, 17:00" {
		t.Errorf("B1 order by %s", got)
	}
}

// Scenario S-11 of the house: the kill floor closes, D6 stands on Thu Nov 19.
func TestKillFloorCloses(t *testing.T) {
	r, today, plant := DefaultRules(), day(t, "2026-10-05"), deerSeason(t)
	d6 := Call{"D6", "pig clinic", day(t, "2026-11-19")}
	c, err := r.Choose(Group{[]Call{d6}, 1}, today, plant, demoClosed)
	if err != nil {
		t.Fatal(err)
	}
	want := []string{
		"Wed Nov 18: 1 day before the class, at least 2; closed Mon Nov 16 to Sun Nov 29: deer season",
		"Tue Nov 17: closed Mon Nov 16 to Sun Nov 29: deer season",
		"Wed Nov 11: 8 days before the class, at most 7",
		"Tue Nov 10: 9 days before the class, at most 7",
	}
	var got []string
	for _, k := range c.All {
		got = append(got, k.Kill.Show()+": "+strings.Join(k.Reasons, "; "))
	}
	if c.OK() || strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("looked at\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}

	options, err := r.Instead(d6, 1, 3, today, plant, demoClosed)
	if err != nil {
		t.Fatal(err)
	}
	got = got[:0]
	for _, o := range options {
		got = append(got, o.Day.Show()+" kill "+o.Chosen.Kill.Show()+" "+days(o.Chosen.Hang))
	}
	want = []string{"Wed Nov 18 kill Wed Nov 11 7 days", "Tue Nov 17 kill Wed Nov 11 6 days", "Thu Dec 3 kill Tue Dec 1 2 days"}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("instead %q, want %q", got, want)
	}

	// B8 alone moves to Nov 11: vacuum-packed bellies, 10 days at class.
	b8, err := r.Choose(Group{[]Call{{"B8", "bacon", day(t, "2026-11-21")}}, 2}, today, plant, demoClosed)
	if err != nil || b8.Chosen.Kill != day(t, "2026-11-11") || b8.Chosen.Hang != 10 || b8.Chosen.OrderBy != day(t, "2026-10-21") {
		t.Errorf("B8 = %+v, %v", b8.Chosen, err)
	}
}

// A fourth-pig limit must be kept, and the least possible goes without.
func TestSlots(t *testing.T) {
	r, today := DefaultRules(), day(t, "2026-09-01")
	order := func(code string) Group { return Group{[]Call{{code, "pig clinic", day(t, "2026-10-15")}}, 3} }
	// Mid-October 15 takes kills of Tue 13 (2 days); Wed 14 is 1 day: one day only.
	choices, err := r.Assign([]Group{order("X"), order("Y")}, today, Plant{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if !choices[0].OK() || choices[1].OK() || choices[1].Advice == "" {
		t.Errorf("X %+v, Y %+v", choices[0].Chosen, choices[1])
	}
	full := Plant{Taken: []Taken{{day(t, "2026-10-13"), "pig", 2}}}
	c, err := r.Choose(order("X"), today, full, nil)
	if err != nil || c.OK() || !strings.Contains(strings.Join(c.All[1].Reasons, ";"), "2 of 4 slots left, 3 wanted") {
		t.Errorf("%+v, %v", c, err)
	}
}

func TestGroupFaults(t *testing.T) {
	_, err := DefaultRules().Assign([]Group{{Calls: []Call{{"D5", "beef clinic", 20000}, {"B1", "bacon", 0}, {"X", "soup", 1}}, Animals: -1}}, 0, Plant{}, nil)
	for _, want := range []string{"[0].animals", "[0].classes[1].day", "[0].classes[1].use", "[0].classes[2].use"} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v lacks %s", err, want)
		}
	}
}

// Assign against every possible choice, on small seasons.
func TestAssignIsExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, today := DefaultRules(), unit.DayOf(2026, 8, 1)
		r.Slots = []Slot{{"pig", rapid.IntRange(1, 5).Draw(t, "slots")}}
		base := unit.DayOf(2026, 10, 10)
		var groups []Group
		for i := range rapid.IntRange(1, 5).Draw(t, "groups") {
			use := rapid.SampledFrom([]string{"bacon", "pig clinic"}).Draw(t, "use")
			groups = append(groups, Group{[]Call{{string(rune('A' + i)), use, base + unit.Day(rapid.IntRange(0, 14).Draw(t, "day"))}}, rapid.IntRange(1, 4).Draw(t, "animals")})
		}
		choices, err := r.Assign(groups, today, Plant{}, nil)
		if err != nil {
			t.Fatal(err)
		}
		// What Assign reached, and that it keeps the slots.
		used := map[unit.Day]int{}
		unfed, steps := 0, 0
		var lists [][]Candidate
		for i, c := range choices {
			all, err := r.Candidates(groups[i], today, Plant{}, nil)
			if err != nil {
				t.Fatal(err)
			}
			var fits []Candidate
			for _, k := range all {
				if k.Fits {
					fits = append(fits, k)
				}
			}
			lists = append(lists, fits)
			if !c.OK() {
				unfed++
				continue
			}
			used[c.Chosen.Kill] += groups[i].Animals
			for k, f := range fits {
				if f.Kill == c.Chosen.Kill {
					steps += k
				}
			}
		}
		for d, n := range used {
			if n > r.Slots[0].PerDay {
				t.Fatalf("%d pigs on %s", n, d)
			}
		}
		bestUnfed, bestSteps := len(groups)+1, 0
		taken := map[unit.Day]int{}
		var try func(i, unfed, steps int)
		try = func(i, unfed, steps int) {
			if i == len(groups) {
				if unfed < bestUnfed || unfed == bestUnfed && steps < bestSteps {
					bestUnfed, bestSteps = unfed, steps
				}
				return
			}
			for k, c := range lists[i] {
				if taken[c.Kill]+groups[i].Animals <= r.Slots[0].PerDay {
					taken[c.Kill] += groups[i].Animals
					try(i+1, unfed, steps+k)
					taken[c.Kill] -= groups[i].Animals
				}
			}
			try(i+1, unfed+1, steps)
		}
		try(0, 0, 0)
		if unfed != bestUnfed || steps != bestSteps {
			t.Fatalf("Assign leaves %d unfed with %d steps, %d with %d is possible", unfed, steps, bestUnfed, bestSteps)
		}
	})
}

func itoa(n int) string { return strings.TrimSuffix(strings.TrimSuffix(days(n), " days"), " day") }

func contains(list []string, want string) bool {
	for _, s := range list {
		if s == want {
			return true
		}
	}
	return false
}

// Sides are not delivered on the day of the kill, and a closed delivery day is none.
func TestDelivery(t *testing.T) {
	r := DefaultRules()
	r.KillDays = []time.Weekday{time.Thursday}
	c, err := r.Choose(Group{[]Call{{"X", "pig clinic", day(t, "2026-10-13")}}, 1}, day(t, "2026-09-01"), Plant{}, nil)
	if err != nil || c.OK() || !contains(c.All[0].Reasons, "no delivery day from Fri Oct 9 to Tue Oct 13") {
		t.Errorf("killed and delivered on one Thursday: %+v, %v", c, err)
	}
	r = DefaultRules()
	c, err = r.Choose(Group{[]Call{{"X", "pig clinic", day(t, "2026-11-28")}}, 1}, day(t, "2026-09-01"), Plant{}, demoClosed)
	if err != nil || c.OK() || !contains(c.All[0].Reasons, "no delivery day from Thu Nov 26 to Sat Nov 28") {
		t.Errorf("delivered on a closed Thursday: %+v, %v", c, err)
	}
}
