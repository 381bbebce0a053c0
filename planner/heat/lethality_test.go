package heat

import (
	"math"
	"strings"
	"testing"
	"time"

	"flitchbook/planner/unit"
)

// core is a log of minutes and degrees.
func core(c bool, figures ...float64) (out []Point) {
	for i := 0; i < len(figures); i += 2 {
		t := unit.TempOfF(figures[i+1])
		if c {
			t = unit.TempOfF(figures[i+1]*1.8 + 32)
		}
		out = append(out, Point{time.Duration(figures[i] * float64(time.Minute)), t})
	}
	return out
}

func held(f, minutes float64) []Point { return core(false, 0, f, minutes, f) }

// Worked rows, derived by hand from FSIS Appendix A (1999, mirror, read), z 10 °F and
// D 67/6.5 s at 150 °F, straight lines integrated exactly. E-L14: whatever the log, the
// status stays (FSIS HACCP model for bacon, heat-treated, not fully cooked, read).
func TestLethalityRows(t *testing.T) {
	for _, r := range []struct {
		id          string
		log         []Point
		f150, log10 float64
		met         bool
	}{
		{"E-L1", held(130, 112), 1.1200, 6.519, true},
		{"E-L2", held(145, 4), 1.2649, 7.363, true},
		{"E-L3", held(145, 3), 0.9487, 5.522, false},
		{"E-L4", core(false, 0, 120, 10, 128, 20, 128, 30, 128, 40, 120), 0, 0, false},
		{"E-L5", core(false, 0, 130, 5, 140, 10, 145, 15, 140, 20, 130), 2.2690, 13.208, true},
		{"E-L6", core(false, 0, 110, 15, 125, 30, 135, 45, 140, 60, 140, 75, 120), 2.8249, 16.443, true},
		{"E-L7", core(false, 0, 128, 20, 134, 40, 136, 60, 131), 1.3298, 7.741, true},
		{"E-L8", core(false, 0, 120, 25, 145), 1.3299, 7.741, true},
		{"E-L9", core(false, 0, 126, 10, 131, 25, 134, 40, 134, 50, 129), 0.8027, 4.672, false},
		{"E-L10", core(true, 0, 50, 10, 58, 20, 62, 30, 60), 2.7773, 16.166, true},
		{"E-L11", held(140, 12), 1.2000, 6.985, true},
		{"E-L12", held(135, 30), 0.9487, 5.522, false},
		{"E-L13", core(false, 0, 125, 10, 135, 20, 145, 30, 150), 7.2691, 42.313, true},
	} {
		k, err := Lethality(r.log)
		if err != nil {
			t.Fatal(r.id, err)
		}
		if math.Abs(k.F150-r.f150) > 6e-5 || math.Abs(k.Logs-r.log10) > 6e-4 || k.Met != r.met {
			t.Errorf("%s: F150 %.5f, %.4f logs, %v; want %.4f, %.3f, %v", r.id, k.F150, k.Logs, k.Met, r.f150, r.log10, r.met)
		}
		if k.Status != NotReady || len(k.Notes) == 0 {
			t.Errorf("E-L14 on %s: status %q", r.id, k.Status)
		}
	}
	doubt, _ := Lethality(held(131, 200))
	if !strings.Contains(strings.Join(doubt.Notes, "; "), "doubtful") {
		t.Errorf("a process at 131 °F: %q", doubt.Notes)
	}
}

// Integration against fine steps of the midpoint rule, an independent reckoning.
func TestLethalityAgainstSmallSteps(t *testing.T) {
	log := core(false, 0, 121, 13, 138.5, 20, 138.5, 31, 146.2, 55, 124)
	sum := 0.0
	const n = 200_000
	for i := 1; i < len(log); i++ {
		a, b := log[i-1], log[i]
		for s := range n {
			x := a.Temp.F() + (b.Temp.F()-a.Temp.F())*(float64(s)+0.5)/n
			if x >= 130 {
				sum += (b.After - a.After).Minutes() / n * math.Pow(10, (x-150)/10)
			}
		}
	}
	if k, err := Lethality(log); err != nil || math.Abs(k.F150-sum) > 1e-6*sum {
		t.Errorf("%v: %.8f, small steps %.8f", err, k.F150, sum)
	}
}

// FSIS Appendix A (1999, mirror, read): every printed 6.5-log row is the formula rounded
// up, but for 136 °F, which prints 28 for 29.
func TestAppendixA(t *testing.T) {
	rows := AppendixA()
	if len(rows) != 20 {
		t.Fatalf("%d rows", len(rows))
	}
	for _, r := range rows {
		want := r.Six
		if r.Temp == 136*unit.Fahrenheit {
			want = 29 * time.Minute
		}
		if got, ok := HoldFor65(r.Temp); !ok || got != want {
			t.Errorf("%s: %s by the formula, printed %s", r.Temp, got, r.Six)
		}
		if got, ok := HoldFor7(r.Temp + 50); !ok || got != r.Seven {
			t.Errorf("%s: 7 logs %s, printed %s", r.Temp, got, r.Seven)
		}
		if k, err := Lethality([]Point{{0, r.Temp}, {r.Six + 1, r.Temp}}); err != nil || r.Temp < 158*unit.Fahrenheit && r.Temp != 136*unit.Fahrenheit && !k.Met {
			t.Errorf("%s for %s: %.3f logs, %v", r.Temp, r.Six, k.Logs, err)
		}
	}
	if _, ok := HoldFor65(12999); ok {
		t.Error("a time below 130 °F")
	}
	if _, ok := HoldFor7(12999); ok {
		t.Error("a 7-log time below 130 °F")
	}
	if d, _ := HoldFor65(131 * unit.Fahrenheit); d != 89*time.Minute {
		t.Errorf("131 °F, left out of the table: %s", d)
	}
}

func TestUnreadableLog(t *testing.T) {
	for want, log := range map[string][]Point{
		"at least 2 readings":       held(130, 1)[:1],
		"points[1]: a reading must": core(false, 5, 130, 5, 131),
		"is no temperature of food": core(false, 0, 130, 5, 5000),
	} {
		if _, err := Lethality(log); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
}
