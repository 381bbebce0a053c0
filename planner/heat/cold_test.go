package heat

import (
	"reflect"
	"strings"
	"testing"
	"time"
	_ "time/tzdata"

	"pgregory.net/rapid"

	"flitchbook/planner/steadytest"
	"flitchbook/planner/unit"
)

func chicago(t testing.TB) *time.Location {
	t.Helper()
	loc, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}
	return loc
}

func f(deg float64) unit.Temp { return unit.TempOfF(deg) }

// series makes a reading every 15 min from start to end, both included.
func series(start, end unit.Instant, temp func(unit.Instant) unit.Temp) []Reading {
	var out []Reading
	for at := start; at <= end; at += 900 {
		out = append(out, Reading{at, temp(at)})
	}
	return out
}

// The cooler door stood open (invented shop, house rule on the probe): above 41 °F
// from Sun Nov 8 02:00 to 07:30, peak 44.8 at 05:15, 40.7 at 07:45.
func doorAjar(loc *time.Location) []Reading {
	d := unit.DayOf(2026, 11, 8)
	first, peak, last := d.At(2, 0, loc), d.At(5, 15, loc), d.At(7, 30, loc)
	return series(d.At(0, 0, loc), d.At(12, 0, loc), func(at unit.Instant) unit.Temp {
		switch {
		case at < first:
			return f(37)
		case at == last+900:
			return f(40.7)
		case at > last:
			return f(38)
		case at <= peak:
			return f(41.2 + 3.6*float64(at-first)/float64(peak-first))
		}
		return f(44.8 - 3.4*float64(at-peak)/float64(last-peak))
	})
}

func TestDoorAjar(t *testing.T) {
	loc := chicago(t)
	log := doorAjar(loc)
	d := unit.DayOf(2026, 11, 8)
	a := Cold(HouseCold(), log, d.At(0, 0, loc), d.At(12, 0, loc))
	if len(a.Runs) != 1 || len(a.Gaps) != 0 {
		t.Fatalf("account %+v", a)
	}
	r := a.Runs[0]
	if r.First != d.At(2, 0, loc) || r.Last != d.At(7, 30, loc) || r.Peak != f(44.8) || r.PeakAt != d.At(5, 15, loc) || r.Readings != 23 {
		t.Errorf("run %+v", r)
	}
	// 02:00 to 04:00 is exactly 2 h, not more.
	if r.Hold == nil || r.Hold.At != d.At(4, 15, loc) {
		t.Fatalf("hold %+v, want it at 04:15", r.Hold)
	}
	if want := "above 41 F for 2 h 15 min, more than 2 h (now 43.7 °F)"; r.Hold.Reason != want {
		t.Errorf("reason %q, want %q", r.Hold.Reason, want)
	}
	// Cut off before the breaking reading, there is a run and no hold.
	if b := Cold(HouseCold(), log[:17], 0, 0); len(b.Runs) != 1 || len(b.Holds()) != 0 || b.Runs[0].Last != d.At(4, 0, loc) {
		t.Errorf("until 04:00: %+v", b)
	}
	// The hold does not go away when the room is good again.
	if len(Cold(HouseCold(), log, 0, 0).Holds()) != 1 {
		t.Error("the hold went away")
	}
}

func TestColdRules(t *testing.T) {
	for _, r := range []struct {
		name  string
		mins  []int
		temps []float64
		runs  int
		hold  int // minute, or -1
	}{
		{"exactly 41", []int{0, 15, 30}, []float64{41, 41, 41}, 0, -1},
		{"a hundredth over", []int{0, 15}, []float64{41.01, 40}, 1, -1},
		{"exactly 45", []int{0, 15}, []float64{45, 40}, 1, -1},
		{"above 45 at once", []int{0, 15, 30}, []float64{40, 45.1, 40}, 1, 15},
		{"two short runs do not add", []int{0, 60, 75, 90, 150}, []float64{42, 42, 41, 42, 42}, 2, -1},
		{"two hours and a second would; two hours do not", []int{0, 60, 120}, []float64{42, 42, 42}, 1, -1},
		{"two hours and a minute", []int{0, 60, 121}, []float64{42, 42, 42}, 1, 121},
		{"first break counts", []int{0, 60, 121, 130}, []float64{42, 42, 42, 46}, 1, 121},
		{"hot before long", []int{0, 60, 121}, []float64{42, 46, 42}, 1, 60},
		{"a gap inside a run does not end it", []int{0, 180}, []float64{42, 42}, 1, 180},
		{"one warm reading, then silence", []int{0}, []float64{42}, 1, -1},
		{"nothing", nil, nil, 0, -1},
	} {
		var log []Reading
		for i, m := range r.mins {
			log = append(log, Reading{1_000_000 + unit.Instant(60*m), f(r.temps[i])})
		}
		a := Cold(HouseCold(), log, 0, 0)
		got := -1
		if h := a.Holds(); len(h) > 0 {
			got = int(h[0].At-1_000_000) / 60
		}
		if len(a.Runs) != r.runs || got != r.hold {
			t.Errorf("%s: %d runs, hold at minute %d, want %d and %d", r.name, len(a.Runs), got, r.runs, r.hold)
		}
	}
}

func TestGaps(t *testing.T) {
	log := []Reading{{3600, f(37)}, {7200, f(37)}, {10801, f(37)}}
	a := Cold(HouseCold(), log, 0, 0)
	if want := []Gap{{7200, 10801}}; !reflect.DeepEqual(a.Gaps, want) {
		t.Errorf("gaps %v, want %v: an hour is no gap, a second more is", a.Gaps, want)
	}
	a = Cold(HouseCold(), log, -100, 20000)
	if want := []Gap{{-100, 3600}, {7200, 10801}, {10801, 20000}}; !reflect.DeepEqual(a.Gaps, want) {
		t.Errorf("gaps %v, want %v", a.Gaps, want)
	}
	if a := Cold(HouseCold(), nil, 100, 3800); !reflect.DeepEqual(a.Gaps, []Gap{{100, 3800}}) || len(a.Holds()) != 0 {
		t.Errorf("a silent probe: %+v", a)
	}
	if a.Gaps[0].Lasted() != 3700*time.Second {
		t.Errorf("lasted %v", a.Gaps[0].Lasted())
	}
}

// Thirty hours too cold (invented shop): below 34 °F from Mon Oct 19 06:00 to Tue
// Oct 20 12:00.
func TestThirtyHoursTooCold(t *testing.T) {
	loc := chicago(t)
	from, to := unit.DayOf(2026, 10, 19).At(6, 0, loc), unit.DayOf(2026, 10, 20).At(12, 0, loc)
	log := series(from-86400, to, func(at unit.Instant) unit.Temp {
		if at < from {
			return f(36)
		}
		return f(31 + 2*float64(at%7200)/7200)
	})
	sealed := unit.DayOf(2026, 10, 10).At(15, 0, loc)
	if got := ColdTime(HouseCold(), log, sealed, to); got != 30*time.Hour {
		t.Errorf("cold for %v, want 30 h", got)
	}
	// A slab sealed in the middle counts from its sealing.
	if got := ColdTime(HouseCold(), log, from.Add(10*time.Hour), to); got != 20*time.Hour {
		t.Errorf("cold for %v, want 20 h", got)
	}
	if got := ColdTime(HouseCold(), log, sealed, from); got != 0 {
		t.Errorf("cold for %v before it was", got)
	}
	// 34 °F itself is not below.
	flat := series(from, to, func(unit.Instant) unit.Temp { return f(34) })
	if got := ColdTime(HouseCold(), flat, from, to); got != 0 {
		t.Errorf("34 °F counted as cold for %v", got)
	}
	// A gap counts when either end is cold; a plain interval when its start is.
	gap := []Reading{{0, f(36)}, {3601, f(33)}, {3601 + 900, f(36)}}
	if got := ColdTime(HouseCold(), gap, 0, 10000); got != (3601+900)*time.Second {
		t.Errorf("a gap with a cold end: %v", got)
	}
	if ColdTime(HouseCold(), nil, from, to) != 0 {
		t.Error("no readings, and cold")
	}
}

// The clocks go back on Sun Nov 1 2026 at 02:00: the hour from one to two comes
// twice, and both are counted.
func TestNightTheClocksGoBack(t *testing.T) {
	loc := chicago(t)
	sun := unit.DayOf(2026, 11, 1)
	one := sun.At(1, 0, loc) // the first of the two
	three := sun.At(3, 0, loc)
	if three.Sub(one) != 3*time.Hour {
		t.Fatalf("01:00 to 03:00 that night is %v", three.Sub(one))
	}
	cold := series(sun.At(0, 0, loc), sun.At(6, 0, loc), func(at unit.Instant) unit.Temp {
		if at >= one && at < three {
			return f(33)
		}
		return f(37)
	})
	if got := ColdTime(HouseCold(), cold, sun.At(0, 0, loc), sun.At(6, 0, loc)); got != 3*time.Hour {
		t.Errorf("cold for %v, want 3 h", got)
	}
	// Warm from 01:00: by the wall it breaks after one hour and a quarter.
	warm := series(sun.At(0, 0, loc), sun.At(6, 0, loc), func(at unit.Instant) unit.Temp {
		if at >= one {
			return f(42)
		}
		return f(37)
	})
	h := Cold(HouseCold(), warm, 0, 0).Holds()
	if len(h) != 1 || h[0].At.Sub(one) != 135*time.Minute || h[0].At.Clock(loc) != "02:15" {
		t.Errorf("holds %+v", h)
	}
	// And the clocks forward on Sun Mar 14 2027: 01:00 to 04:00 is two hours.
	mar := unit.DayOf(2027, 3, 14)
	warm = series(mar.At(1, 0, loc), mar.At(4, 0, loc), func(unit.Instant) unit.Temp { return f(42) })
	if h := Cold(HouseCold(), warm, 0, 0).Holds(); len(h) != 0 {
		t.Errorf("two hours in spring opened %+v", h)
	}
}

// Against a plain second reading of the rule: a hold exists at a reading exactly when
// it, or a warm reading more than two hours earlier with no cool one between, says so.
func TestHoldsAgainstPlainReading(t *testing.T) {
	steadytest.Runs(t, "300")
	rapid.Check(t, func(t *rapid.T) {
		var log []Reading
		at := unit.Instant(1_700_000_000)
		for range rapid.IntRange(0, 40).Draw(t, "readings") {
			at += unit.Instant(rapid.SampledFrom([]int{1, 900, 900, 900, 3600, 3601, 7200}).Draw(t, "step"))
			log = append(log, Reading{at, unit.Temp(rapid.SampledFrom([]int{3700, 4100, 4101, 4200, 4500, 4501}).Draw(t, "temp"))})
		}
		breaks := func(i int) bool {
			if log[i].Temp > 4500 {
				return true
			}
			for j := i; j >= 0 && log[j].Temp > 4100; j-- {
				if log[i].Temp > 4100 && log[i].At-log[j].At > 7200 {
					return true
				}
			}
			return false
		}
		var want []unit.Instant
		held := false
		for i, r := range log {
			if r.Temp <= 4100 {
				held = false
			}
			if breaks(i) && !held {
				held = true
				want = append(want, r.At)
			}
		}
		var got []unit.Instant
		mixed := rapid.Permutation(log).Draw(t, "mixed")
		for _, h := range Cold(HouseCold(), mixed, 0, 0).Holds() {
			got = append(got, h.At)
			if !strings.ContainsAny(h.Reason, "0123456789") {
				t.Fatalf("no numbers in %q", h.Reason)
			}
		}
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("holds at %v, want %v", got, want)
		}
		// Cold and not-cold make up the whole stretch when there is no gap.
		rule := HouseCold()
		rule.Gap = 1 << 62
		all := rule
		all.Stall = 1 << 40
		if len(log) > 0 {
			if c := ColdTime(all, log, log[0].At, at); c != at.Sub(log[0].At) {
				t.Fatalf("everything cold is %v of %v", c, at.Sub(log[0].At))
			}
		}
	})
}
