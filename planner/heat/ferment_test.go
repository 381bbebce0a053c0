package heat

import (
	"math"
	"testing"
	"time"

	"flitchbook/planner/unit"
)

// Rows E-F1 to E-F9. Limits: AMI 1997, read where quoted; Canada, from memory. E-F1 to
// E-F4 and E-F7 are worked after the manner of those documents, from memory, reckoned
// anew; the rest is derived.
func TestFermentRows(t *testing.T) {
	us, canada := FermentRules()[0], FermentRules()[1]
	log := func(c bool, figures ...float64) (out []Chamber) {
		for i := 0; i < len(figures); i += 2 {
			deg := figures[i+1]
			if c {
				deg = deg*1.8 + 32
			}
			out = append(out, Chamber{time.Duration(figures[i] * float64(time.Hour)), unit.TempOfF(deg)})
		}
		return out
	}
	for _, r := range []struct {
		id    string
		rule  FermentRule
		log   []Chamber
		hours float64
		limit int64
		want  Outcome
	}{
		{"E-F1", us, log(false, 55, 80), 1100, 1200, Pass},
		{"E-F2", us, log(false, 40, 90), 1200, 1000, Fail},
		{"E-F3", us, log(false, 18, 110), 900, 900, Pass},
		{"E-F4", us, log(false, 10, 75, 10, 85, 14, 95), 890, 1000, Pass},
		{"E-F5", us, log(false, 12, 72, 20, 88, 4, 58), 704, 1200, Pass},
		{"E-F6", us, log(false, 8, 80, 16, 92, 6, 104), 936, 900, Fail},
		{"E-F7", canada, log(true, 38, 26), 395.2, 665, Pass},
		{"E-F7, hotter", canada, log(true, 40, 35), 776, 555, Fail},
		{"E-F8", us, log(false, 60, 80), 1200, 1200, Pass},
		{"E-F9", us, log(false, 10, 85, 15, 102), 880, 900, Pass},
		{"a second over", us, []Chamber{{60*time.Hour + time.Second, 8000}}, 1200.0055556, 1200, Fail},
		{"89.9 °F", us, log(false, 40, 89.9), 1196, 1200, Pass},
		{"100 °F", us, log(false, 25, 100), 1000, 1000, Pass},
		{"100.1 °F", us, log(false, 23, 100.1), 922.3, 900, Fail},
		{"33 °C", canada, log(true, 31, 33), 539.4, 555, Pass},
		{"37 °C", canada, log(true, 25, 37), 535, 555, Pass},
		{"37.1 °C", canada, log(true, 24, 37.1), 516, 500, Fail},
		{"cold, not counted", us, log(false, 500, 59, 10, 60), 0, 1200, Pass},
	} {
		got, err := Ferment(r.rule, r.log)
		if err != nil || math.Abs(got.DegreeHours-r.hours) > 1e-6 || got.Limit != r.limit || got.Outcome != r.want || got.Why == "" {
			t.Errorf("%s: %+v, %v; want %.1f of %d, %s", r.id, got, err, r.hours, r.limit, r.want)
		}
	}
	// The form of hours at a constant temperature, university "Fermentation Log", 2012,
	// read: whole hours down.
	for deg, want := range map[float64]int{75: 80, 80: 60, 90: 33, 100: 25, 110: 18} {
		if d, ok := us.LongestAt(unit.TempOfF(deg)); !ok || int(d.Hours()) != want {
			t.Errorf("%v °F: %s, want %d h", deg, d, want)
		}
	}
	if _, ok := us.LongestAt(6000); ok {
		t.Error("a longest time at the base")
	}
	for _, bad := range [][]Chamber{nil, {{0, 8000}}, {{time.Hour, 40_000}}, {{-time.Hour, 8000}}, {{20_000 * time.Hour, 8000}}} {
		if _, err := Ferment(us, bad); err == nil {
			t.Errorf("%v was judged", bad)
		}
	}
	if !KeepsUnchilled(5.0, 3.1) || KeepsUnchilled(5.1, 3.1) || KeepsUnchilled(5.0, 3.2) || KeepsUnchilled(0, 0) || Dryness()["pepperoni"] != 1.6 {
		t.Error("dryness and pH")
	}
}
