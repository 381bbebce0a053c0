package season

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"flitchbook/planner/unit"
)

// The planned chains of the demo shop's calendar (house rules: unbag Mon or Thu from
// day 12, smoke next day, pack the day after, closed Nov 26 and 27).
func TestPlannedChains(t *testing.T) {
	for _, row := range []struct {
		what, seal  string
		cold        time.Duration
		unbag, pack string
	}{
		{"B1", "2026-10-10", 0, "Thu Oct 22", "Sat Oct 24"},
		{"B2", "2026-10-17", 0, "Thu Oct 29", "Sat Oct 31"},
		{"B3 and P2", "2026-10-24", 0, "Thu Nov 5", "Sat Nov 7"},
		{"B4", "2026-10-31", 0, "Thu Nov 12", "Sat Nov 14"},
		{"B5", "2026-11-07", 0, "Thu Nov 19", "Sat Nov 21"},
		{"M10: B6 and B7, over the holiday", "2026-11-14", 0, "Mon Nov 30", "Wed Dec 2"},
		{"B8", "2026-11-21", 0, "Thu Dec 3", "Sat Dec 5"},
		{"S-04: B1 after 30 h too cold", "2026-10-10", 30 * time.Hour, "Mon Oct 26", "Wed Oct 28"},
		{"S-04: B2 after 30 h too cold", "2026-10-17", 30 * time.Hour, "Mon Nov 2", "Wed Nov 4"},
		{"S-05: sealed again Nov 13", "2026-11-13", 0, "Mon Nov 30", "Wed Dec 2"},
		{"a started day counts whole", "2026-10-10", time.Minute, "Mon Oct 26", "Wed Oct 28"},
	} {
		c, err := DefaultRules().ReadyAbout(day(t, row.seal), row.cold, demoClosed)
		if err != nil || c.Unbag.Show() != row.unbag || c.Pack.Show() != row.pack || c.Smoke != c.Unbag+1 {
			t.Errorf("%s: unbag %s, ready about %s, %v; want %s, %s", row.what, c.Unbag.Show(), c.Pack.Show(), err, row.unbag, row.pack)
		}
	}
}

// S-06: what the load of Fri Nov 6 leaves out hangs on Tue Nov 10, on day 16 of at
// most 20.
func TestReadyFromALaterLoad(t *testing.T) {
	c, err := DefaultRules().ReadyFrom(day(t, "2026-11-06"), day(t, "2026-10-24"), 0, demoClosed)
	if err != nil || c.Unbag.Show() != "Mon Nov 9" || c.Pack.Show() != "Wed Nov 11" || c.Age != 16 || c.Earliest.Show() != "Thu Nov 5" {
		t.Errorf("ReadyFrom = %+v, %v", c, err)
	}
	var none *NoChain
	if _, err := DefaultRules().ReadyFrom(day(t, "2026-11-14"), day(t, "2026-10-24"), 0, demoClosed); !errors.As(err, &none) {
		t.Errorf("past the last unbag day: %v", err)
	}
}

// J1: the last class whose bacon is ready before Thu Nov 26 is Sat Nov 7.
func TestLastBeforeHoliday(t *testing.T) {
	var seals []unit.Day
	for _, s := range []string{"2026-10-31", "2026-11-14", "2026-11-07", "2026-11-21"} {
		seals = append(seals, day(t, s))
	}
	c, ok := DefaultRules().LastBefore(seals, day(t, "2026-11-26"), demoClosed)
	if !ok || c.Seal.Show() != "Sat Nov 7" || c.Pack.Show() != "Sat Nov 21" {
		t.Errorf("LastBefore = %+v, %v", c, ok)
	}
	if _, ok := DefaultRules().LastBefore(seals, day(t, "2026-11-14"), demoClosed); ok {
		t.Error("Oct 31 is packed on Nov 14, not before it")
	}
}

func TestNoChain(t *testing.T) {
	_, err := DefaultRules().ReadyAbout(day(t, "2026-10-10"), 9*24*time.Hour, demoClosed)
	var none *NoChain
	if !errors.As(err, &none) || !strings.Contains(err.Error(), "past the last day Fri Oct 30") {
		t.Errorf("err = %v", err)
	}
	shut := Closed{}
	for d := day(t, "2026-10-20"); d <= day(t, "2026-11-02"); d++ {
		shut[d] = "works on the drain"
	}
	_, err = DefaultRules().ReadyAbout(day(t, "2026-10-10"), 0, shut)
	if !errors.As(err, &none) || len(none.Skipped) != 3 {
		t.Errorf("err = %v", err)
	}
}

// The rules every chain must keep, whatever is closed.
func TestChainLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, closed := DefaultRules(), Closed{}
		seal := unit.DayOf(2026, 1, 1) + unit.Day(rapid.IntRange(0, 400).Draw(t, "seal"))
		for range rapid.IntRange(0, 8).Draw(t, "n") {
			closed[seal+unit.Day(rapid.IntRange(0, 30).Draw(t, "closed"))] = "shut"
		}
		cold := rapid.IntRange(0, 100).Draw(t, "cold")
		c, err := r.ReadyAbout(seal, time.Duration(cold)*time.Hour, closed)
		if err != nil {
			return
		}
		age := int(c.Unbag - seal)
		if age < 12+(cold+23)/24 || age > 20 || age != c.Age {
			t.Fatalf("age %d with %d cold hours", age, cold)
		}
		if w := c.Unbag.Weekday(); w != time.Monday && w != time.Thursday {
			t.Fatalf("unbag on %s", w)
		}
		for d := c.Unbag; d <= c.Pack; d++ {
			if closed.Has(d) || d.Weekday() == time.Sunday {
				t.Fatalf("works on %s", d.ShowYear())
			}
		}
		warm, err := r.ReadyAbout(seal, 0, closed)
		if err != nil || warm.Unbag > c.Unbag {
			t.Fatalf("cold brings the date forward: %v %v", warm, c)
		}
	})
}

func demoSittings(t testing.TB) []Sitting {
	var s []Sitting
	for _, row := range []struct {
		code, day   string
		seats, sold int
		second      int
	}{
		{"B1", "2026-10-10", 10, 10, 1}, {"B2", "2026-10-17", 10, 10, 0}, {"B3", "2026-10-24", 10, 10, 0}, {"P2", "2026-10-24", 8, 8, 0},
		{"B4", "2026-10-31", 10, 4, 0}, {"B5", "2026-11-07", 10, 6, 0}, {"B6", "2026-11-14", 10, 4, 0}, {"B7", "2026-11-14", 10, 7, 0}, {"B8", "2026-11-21", 10, 4, 0},
	} {
		s = append(s, Sitting{Code: row.code, Day: day(t, row.day), Seats: row.seats, Sold: row.sold, Second: row.second, Demo: 1})
	}
	return s
}

func used(r Rules, s []Sitting, slabs Slabs, d unit.Day) int {
	for _, row := range r.Rack(s, slabs, demoClosed) {
		if row.Day == d {
			return row.Used
		}
	}
	return 0
}

// The rack of the demo calendar with all classes full, on its Saturdays.
func TestRackFull(t *testing.T) {
	r, s := DefaultRules(), demoSittings(t)
	for i, want := range []int{12, 23, 31, 31, 22, 33, 33} {
		d := day(t, "2026-10-10") + unit.Day(7*i)
		if got := used(r, s, Sitting.Full, d); got != want {
			t.Errorf("%s: rack %d, want %d", d.Show(), got, want)
		}
	}
	if b := r.Breaks(s, Sitting.Full, demoClosed); len(b) > 0 {
		t.Errorf("the demo season breaks: %v", b)
	}
}

// Scenario S-04, point 4: the rack with seats sold on Tue Oct 20, after 30 cold hours.
func TestRackAfterCold(t *testing.T) {
	r, s := DefaultRules(), demoSittings(t)
	s[0].Cold, s[1].Cold = 30*time.Hour, 30*time.Hour
	for d, want := range map[string]int{
		"2026-10-24": 43, "2026-10-26": 43, "2026-10-27": 31, "2026-10-31": 36, "2026-11-02": 36,
	} {
		if got := used(r, s, Sitting.Now, day(t, d)); got != want {
			t.Errorf("%s: rack %d, want %d", d, got, want)
		}
	}
	if b := r.Breaks(s, Sitting.Now, demoClosed); len(b) == 0 || b[0].Text != "Sat Oct 24: rack 43 of 36" {
		t.Errorf("breaks = %v", b)
	}
	if lost := r.Placeless(s, demoClosed); fmt.Sprint(lost) != "[{B4 6}]" {
		t.Errorf("Placeless = %v, want B4's 6 unsold seats", lost)
	}
}

func TestHooks(t *testing.T) {
	r := roomy()
	one := func(seats, low int) []Sitting {
		return []Sitting{{Code: "X", Day: day(t, "2026-10-10"), Seats: seats, Sold: seats, Allergen: low}}
	}
	// Day 12 to 20 from Oct 10: Fri Oct 23 (18), Tue Oct 27 (16), Fri Oct 30 (18).
	if b := r.Breaks(one(52, 0), Sitting.Full, nil); len(b) != 0 {
		t.Errorf("52 slabs on 18 + 16 + 18 hooks: %v", b)
	}
	if b := r.Breaks(one(53, 0), Sitting.Full, nil); len(b) != 1 || b[0].What != "hooks" || b[0].Day != day(t, "2026-10-30") {
		t.Errorf("53 slabs: %v", b)
	}
	if b := r.Breaks(one(18, 18), Sitting.Full, nil); len(b) != 0 {
		t.Errorf("18 in the bottom rows of three loads: %v", b)
	}
	if b := r.Breaks(one(19, 19), Sitting.Full, nil); len(b) != 1 || b[0].What != "bottom row" {
		t.Errorf("19 in the bottom rows: %v", b)
	}
}

// A class with nothing sold needs a place for its demo slab too.
func TestPlacelessCountsTheDemo(t *testing.T) {
	r := DefaultRules()
	r.Places = 12
	s := []Sitting{{Code: "B1", Day: day(t, "2026-10-10"), Seats: 10, Sold: 8, Demo: 1}, {Code: "B2", Day: day(t, "2026-10-17"), Seats: 10, Demo: 1}}
	// Place 10 goes to B1's unsold two, 1 is left: for B2's demo, so none of its seats.
	if lost := r.Placeless(s, nil); fmt.Sprint(lost) != "[{B2 10}]" {
		t.Errorf("Placeless = %v", lost)
	}
	r.Places = 14
	if lost := r.Placeless(s, nil); fmt.Sprint(lost) != "[{B2 8}]" {
		t.Errorf("Placeless = %v", lost)
	}
}
