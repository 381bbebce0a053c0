package season

import (
	"fmt"
	"testing"
	"time"

	"pgregory.net/rapid"

	"flitchbook/planner/unit"
)

// Scenario S-12 (house rules R29, R32a): on Fri Oct 23 a second sitting is sketched for
// Sat Nov 21, when B6, B7 and B8 lie in the cooler. The numbers are the scenario's, added
// up by hand: 22 + 11 + 11 = 44 of 36, three places left, one of them the demo's.
func TestSecondSitting(t *testing.T) {
	cut := func(seats int) func([]Sitting) []Sitting {
		return func(s []Sitting) []Sitting {
			for i := range s {
				if s[i].Code == "B6" || s[i].Code == "B7" {
					s[i].Seats = seats
				}
			}
			return s
		}
	}
	for _, row := range []struct {
		what, day string
		seats     int
		change    func([]Sitting) []Sitting
		text      string // "" = it fits
		most      int
		later     string
	}{
		{"as sketched", "2026-11-21", 10, nil, "Sat Nov 21: rack 44 of 36; at most 2 seats fit; the whole class fits on Sat Dec 5", 2, "Sat Dec 5"},
		{"a week later it is 44 too", "2026-11-28", 10, nil, "Sat Nov 28: rack 44 of 36; at most 2 seats fit; the whole class fits on Sat Dec 5", 2, "Sat Dec 5"},
		{"B6 and B7 cut to 8 seats", "2026-11-21", 10, cut(8), "Sat Nov 21: rack 40 of 36; at most 6 seats fit; the whole class fits on Sat Dec 5", 6, "Sat Dec 5"},
		{"the two that fit", "2026-11-21", 2, nil, "", 2, ""},
		{"three do not", "2026-11-21", 3, nil, "Sat Nov 21: rack 37 of 36; at most 2 seats fit; the whole class fits on Sat Dec 5", 2, "Sat Dec 5"},
		{"the whole class on Dec 5", "2026-12-05", 10, nil, "", 10, ""},
		{"on a closed day", "2026-11-26", 10, nil, "Thu Nov 26: the shop is closed; at most 0 seats fit; the whole class fits on Thu Dec 3", 0, "Thu Dec 3"},
	} {
		r, d := DefaultRules(), Diary{Open: demoSittings(t), Closed: demoClosed}
		if row.change != nil {
			d.Open = row.change(d.Open)
		}
		add := Sitting{Code: "B9", Day: day(t, row.day), Seats: row.seats, Demo: 1}
		v := r.Judge(d, add)
		if err := v.Check(r, d, add); err != nil {
			t.Errorf("%s: %v", row.what, err)
		}
		later := ""
		if v.Later != 0 {
			later = v.Later.Show()
		}
		if row.text == "" {
			if !v.OK {
				t.Errorf("%s: refused: %s", row.what, v.Text)
			}
			continue
		}
		if v.OK || v.Text != row.text || v.MostSeats != row.most || later != row.later {
			t.Errorf("%s: %v %q, most %d, later %s", row.what, v.OK, v.Text, v.MostSeats, later)
		}
	}
}

// What shelf and kill days say about the second sitting does not refuse it: one packet
// more than the shelf holds (of B6 and B7 16 hang on Tue Dec 1, so on Sat Dec 5 there are
// 15, then 5 of B7, 10 of B8 and 1 of B9, demos left out), and order-bys that had passed on Oct 23 (the kill of Wed
// Nov 11 had to be ordered by Oct 21; from Nov 16 the floor is closed, R19, R20).
func TestNotesRefuseNothing(t *testing.T) {
	r := DefaultRules()
	d := Diary{Open: demoSittings(t), Closed: demoClosed, Today: day(t, "2026-10-23"),
		Plant: Plant{Closures: []Closure{{From: day(t, "2026-11-16"), To: day(t, "2026-11-29"), Why: "deer season"}}}}
	v := r.Judge(d, Sitting{Code: "B9", Day: day(t, "2026-11-21"), Seats: 2, Demo: 1, Use: "bacon", Animals: 1})
	var said []string
	for _, n := range v.Notes {
		said = append(said, n.Text)
	}
	if !v.OK || len(said) != 2 || said[0] != "Sat Dec 5: shelf 31 of 30, if a packet waits 7 days" ||
		said[1] != "Sat Nov 21: no kill brings the meat of B9; Wed Nov 11: order-by Wed Oct 21 has passed, 2 days ago" {
		t.Errorf("%v, said %q", v.OK, said)
	}
	// A clinic is its half pig: without a kill it is refused, and Thu Dec 3 is the first
	// Thursday after the closure (kill of Tue Dec 1).
	v = r.Judge(d, Sitting{Code: "D7", Day: day(t, "2026-11-19"), Seats: 12, Plain: true, Use: "pig clinic"})
	if v.OK || v.MostSeats != 0 || v.Later.Show() != "Thu Dec 3" || v.First.What != "kill" {
		t.Errorf("a clinic in the closure: %+v", v)
	}
	if v := r.Judge(d, Sitting{Code: "D7", Day: day(t, "2026-11-19"), Seats: 12, Plain: true, Use: "pig clinic", Fed: true}); !v.OK {
		t.Errorf("a clinic whose meat is planned: %+v", v)
	}
}

// The shop's own bacon may take another number of hooks on one day (R30, S-06: 8 on Fri
// Nov 6), and no load is larger than the resting room.
func TestHookPlansAndResting(t *testing.T) {
	r := roomy()
	one := func(seats int) []Sitting {
		return []Sitting{{Code: "X", Day: day(t, "2026-10-24"), Seats: seats, Sold: seats}}
	}
	// Day 12 to 20 from Oct 24: Fri Nov 6 (18), Tue Nov 10 (16), Fri Nov 13 (18) = 52.
	if b := r.Breaks(one(52), Sitting.Full, nil); len(b) != 0 {
		t.Errorf("52 slabs on 18 + 16 + 18: %v", b)
	}
	r.HookPlans = map[unit.Day]int{day(t, "2026-11-06"): 8}
	b := r.Breaks(one(52), Sitting.Full, nil)
	if len(b) != 1 || b[0].Text != "Fri Nov 13: 2 of X's 52 slabs find no hook by their last unbag day" {
		t.Errorf("with 8 own hooks on Nov 6: %v", b)
	}
	days := r.Loads(one(50), Sitting.Full, nil)
	if len(days) != 3 || days[0].Hooks != 16 || days[0].Own != 8 || days[0].Smoke != day(t, "2026-11-06") || days[0].Used != 16 || days[2].Used != 18 {
		t.Errorf("loads = %+v", days)
	}
	r.Resting = 20 // with own bacon 8, 8 and 6: 12 + 12 + 14
	b = r.Breaks(one(39), Sitting.Full, nil)
	if len(b) != 1 || b[0].What != "resting" || b[0].Cap != 38 {
		t.Errorf("39 slabs through a resting room of 20: %v", b)
	}
}

// roomy are rules in which hooks alone are short.
func roomy() Rules {
	r := DefaultRules()
	r.Places, r.TableSeats, r.SealBags = 500, 0, 0
	return r
}

// Two sittings at one time share tables and teacher; the sealer closes two bags each
// 90 s, so 26 in 20 minutes.
func TestTablesHandsSealer(t *testing.T) {
	r := DefaultRules()
	d := day(t, "2026-12-12")
	open := Diary{Open: []Sitting{{Code: "B10", Day: d, Seats: 10, Demo: 1, From: 14 * 60, To: 16*60 + 30}}}
	at := func(from, to, seats int) Verdict {
		add := Sitting{Code: "X", Day: d, Seats: seats, Plain: true, From: from, To: to}
		v := r.Judge(open, add)
		if err := v.Check(r, open, add); err != nil {
			t.Error(err)
		}
		return v
	}
	if v := at(16*60+30, 19*60, 40); !v.OK {
		t.Errorf("one after the other: %s", v.Text)
	}
	if v := at(16*60+29, 19*60, 4); v.OK || v.First.Text != "Sat Dec 12: B10, X at one time, and 1 to teach" || v.Later.Show() != "Sat Dec 19" || v.MostSeats != 0 {
		t.Errorf("a minute too early: %+v", v)
	}
	r.Teachers = 2
	if v := at(13*60, 15*60, 31); v.OK || v.First.Text != "Sat Dec 12: 41 at the tables of 40 seats (X, B10)" && v.First.Text != "Sat Dec 12: 41 at the tables of 40 seats (B10, X)" || v.MostSeats != 30 {
		t.Errorf("41 people: %+v", v)
	}
	r.Places = 500
	add := Sitting{Code: "B11", Day: d + 7, Seats: 26, Demo: 1}
	if v := r.Judge(open, add); v.OK || v.First.What != "sealer" || v.First.Cap != 26 || v.MostSeats != 25 {
		t.Errorf("27 bags: %+v", v)
	}
}

// A season drawn at random, some of it allergen picks and cold spells.
func drawDiary(t *rapid.T) (Rules, Diary, Sitting) {
	r := DefaultRules()
	r.Places = rapid.IntRange(8, 60).Draw(t, "places")
	r.Hooks = rapid.IntRange(8, 24).Draw(t, "hooks")
	r.OwnHooks = []OwnHook{{time.Tuesday, rapid.IntRange(0, 6).Draw(t, "tue")}, {time.Friday, rapid.IntRange(0, 6).Draw(t, "fri")}}
	r.Resting = rapid.SampledFrom([]int{0, 6, 12, 24}).Draw(t, "resting")
	r.BottomRow = rapid.IntRange(0, 6).Draw(t, "bottom")
	base := unit.DayOf(2026, 10, 10)
	r.HookPlans = map[unit.Day]int{base + unit.Day(rapid.IntRange(10, 40).Draw(t, "plan day")): rapid.IntRange(0, 8).Draw(t, "plan")}
	d := Diary{Closed: Closed{}}
	for range rapid.IntRange(0, 4).Draw(t, "closed") {
		d.Closed[base+unit.Day(rapid.IntRange(0, 60).Draw(t, "shut"))] = "shut"
	}
	draw := func(code string) Sitting {
		s := Sitting{Code: code, Day: base + unit.Day(7*rapid.IntRange(0, 5).Draw(t, "week")), Seats: rapid.IntRange(1, 20).Draw(t, "seats"), Demo: rapid.IntRange(0, 1).Draw(t, "demo"),
			Plain: rapid.IntRange(0, 4).Draw(t, "plain") == 0, Cold: time.Duration(rapid.IntRange(0, 40).Draw(t, "cold")) * time.Hour}
		s.Allergen = rapid.IntRange(0, s.Seats).Draw(t, "allergen")
		s.From = rapid.SampledFrom([]int{0, 13 * 60, 14 * 60}).Draw(t, "from")
		if s.From > 0 {
			s.To = s.From + 90
		}
		return s
	}
	for i := range rapid.IntRange(0, 6).Draw(t, "open") {
		d.Open = append(d.Open, draw(fmt.Sprint("B", i)))
	}
	return r, d, draw("N")
}

// Whatever the season, a verdict stands when everything is counted again slab by slab.
func TestVerdictCountedAgain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, d, add := drawDiary(t)
		v := r.Judge(d, add)
		if err := v.Check(r, d, add); err != nil {
			t.Fatalf("%v\n%+v", err, v)
		}
	})
}

// A wrong verdict does not pass.
func TestVerdictCheckSees(t *testing.T) {
	r, d := DefaultRules(), Diary{Open: demoSittings(t), Closed: demoClosed}
	add := Sitting{Code: "B9", Day: day(t, "2026-11-21"), Seats: 10, Demo: 1}
	for what, bend := range map[string]func(*Verdict){
		"it fits":                func(v *Verdict) { v.OK = true },
		"three seats fit":        func(v *Verdict) { v.MostSeats = 3 },
		"one seat fits":          func(v *Verdict) { v.MostSeats = 1 },
		"Nov 28 would do":        func(v *Verdict) { v.Later -= 7 },
		"Dec 5 would not do yet": func(v *Verdict) { v.Later += 7 },
	} {
		v := r.Judge(d, add)
		bend(&v)
		if v.Check(r, d, add) == nil {
			t.Errorf("nobody sees that the verdict says %s", what)
		}
	}
}

// Fewer seats never break what more seats did not; more room never breaks what less room
// held; a class less never refuses another.
func TestPublishLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, d, add := drawDiary(t)
		v := r.Judge(d, add)
		if !v.OK {
			if v.MostSeats >= add.Seats || len(v.Broken) == 0 || v.First != v.Broken[0] {
				t.Fatalf("%+v", v)
			}
			for i := 1; i < len(v.Broken); i++ {
				if v.Broken[i].Day < v.First.Day {
					t.Fatalf("an earlier break than the first: %+v", v.Broken)
				}
			}
			return
		}
		fewer := add
		fewer.Seats = rapid.IntRange(0, add.Seats).Draw(t, "fewer")
		fewer.Allergen = min(add.Allergen, fewer.Seats)
		if v := r.Judge(d, fewer); !v.OK {
			t.Fatalf("%d seats fit, %d do not: %s", add.Seats, fewer.Seats, v.Text)
		}
		wider := r
		wider.Places += rapid.IntRange(0, 9).Draw(t, "more places")
		wider.TableSeats += rapid.IntRange(0, 9).Draw(t, "more chairs")
		wider.Teachers += rapid.IntRange(0, 1).Draw(t, "more hands")
		if len(wider.Breaks(d.Open, Sitting.Full, d.Closed)) > len(r.Breaks(d.Open, Sitting.Full, d.Closed)) {
			t.Fatal("more room breaks more")
		}
		if v := wider.Judge(d, add); !v.OK {
			t.Fatalf("fits in less room: %s", v.Text)
		}
	})
}

// The whole sketch of a season agrees with publishing its classes one after another, and
// what it lists as the days' use is what the rack counts.
func TestSketch(t *testing.T) {
	r := DefaultRules()
	all := demoSittings(t)
	s := r.Sketch(Diary{Closed: demoClosed}, all)
	if !s.OK() || len(s.Answers) != 9 || len(s.Breaks) != 0 {
		t.Fatalf("the demo season: first %v, breaks %v", s.First, s.Breaks)
	}
	for _, d := range s.Days {
		if d.Rack != used(r, all, Sitting.Full, d.Day) {
			t.Errorf("%s: rack %d", d.Day, d.Rack)
		}
	}
	s = r.Sketch(Diary{Open: all, Closed: demoClosed}, []Sitting{
		{Code: "B9", Day: day(t, "2026-11-21"), Seats: 10, Demo: 1}, {Code: "B10", Day: day(t, "2026-12-05"), Seats: 10, Demo: 1}})
	if s.OK() || s.First.Text != "Sat Nov 21: rack 44 of 36" || s.Answers[0].OK || !s.Answers[1].OK {
		t.Errorf("with a second sitting: first %v, %+v", s.First, s.Answers)
	}
	if len(s.Breaks) == 0 || s.Breaks[0].Text != "Sat Nov 21: rack 44 of 36" {
		t.Errorf("breaks = %v", s.Breaks)
	}
}

func BenchmarkSketchDemoSeason(b *testing.B) {
	r, all := DefaultRules(), demoSittings(b)
	d := Diary{Closed: demoClosed}
	for b.Loop() {
		if !r.Sketch(d, all).OK() {
			b.Fatal("the demo season does not fit")
		}
	}
}

// The refused second sitting with its search and the recount.
func BenchmarkPublishRefused(b *testing.B) {
	r, d := DefaultRules(), Diary{Open: demoSittings(b), Closed: demoClosed}
	add := Sitting{Code: "B9", Day: day(b, "2026-11-21"), Seats: 10, Demo: 1}
	for b.Loop() {
		v := r.Judge(d, add)
		if err := v.Check(r, d, add); err != nil || v.OK {
			b.Fatal(v, err)
		}
	}
}
