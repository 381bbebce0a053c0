package heat

import (
	"math"
	"testing"
	"time"

	"flitchbook/planner/unit"
)

func coolingRule(t *testing.T, id string) CoolingRule {
	t.Helper()
	for _, r := range CoolingRules() {
		if r.ID == id {
			return r
		}
	}
	t.Fatalf("no rule %q", id)
	return CoolingRule{}
}

// hours is a log of hours and °F.
func hours(figures ...float64) (out []Point) {
	for i := 0; i < len(figures); i += 2 {
		out = append(out, Point{time.Duration(figures[i] * float64(time.Hour)), unit.TempOfF(figures[i+1])})
	}
	return out
}

var (
	c1 = hours(0, 142, 1, 90, 2, 70, 4, 50, 6, 38)
	c2 = hours(0, 140, 1, 118, 2, 100, 3, 88, 4, 80, 6, 66, 8, 56, 10, 48, 12, 40)
	c3 = hours(0, 135, 2, 110, 5, 85, 8, 70, 12, 52, 16, 44)
	c4 = hours(0, 128, 1, 84, 2, 66, 4, 48, 8, 40)
	c5 = hours(0, 150, 0.5, 120, 1, 96, 2, 76, 3, 62, 5, 48, 7, 39)
)

// Rows E-C1 to E-C5. Rules: "fast" FSIS Appendix B 1999 option 1, read where quoted;
// "cured-slow" CFIA, read; "food code" 3-501.14, read where quoted. The times in the
// bands are derived. A band that a log does not pass has no time there (−1).
func TestCoolingRows(t *testing.T) {
	enough := Cured{PPM: 156, Brine: 3.7}
	for _, r := range []struct {
		id               string
		log              []Point
		fast, slow, code Outcome
		took             [5]float64 // 130–80, 80–40, 80–45, 135–70, 70–41
	}{
		{"E-C1", c1, Pass, Pass, Pass, [5]float64{1.269, 4.167, 3.333, 1.865, 3.5}},
		{"E-C2", c2, Fail, Pass, Fail, [5]float64{3.545, 8, 6.750, 5.201, 6.321}},
		{"E-C3", c3, Fail, Fail, Fail, [5]float64{5.6, -1, 9.5, 8, -1}},
		{"E-C4", c4, Fail, Pass, Fail, [5]float64{1.222, 6.778, 4.278, 1.778, 5.722}},
		{"E-C5", c5, Pass, Pass, Fail, [5]float64{1.467, 4.978, 3.867, 2.179, 4.127}},
	} {
		for id, want := range map[string]Outcome{"fast": r.fast, "cured-slow": r.slow, "food code": r.code} {
			if v, err := Cooling(coolingRule(t, id), r.log, enough); err != nil || v.Outcome != want || v.Why == "" {
				t.Errorf("%s under %s: %+v, %v; want %s", r.id, id, v, err, want)
			}
		}
		fast, _ := Cooling(coolingRule(t, "fast"), r.log, enough)
		slow, _ := Cooling(coolingRule(t, "cured-slow"), r.log, enough)
		calif, _ := Cooling(coolingRule(t, "california"), r.log, enough)
		for i, b := range []Judged{fast.Bands[0], fast.Bands[1], slow.Bands[1], calif.Bands[0], calif.Bands[1]} {
			if r.took[i] < 0 {
				if b.Reached {
					t.Errorf("%s band %d: reached", r.id, i)
				}
				continue
			}
			if !b.Reached || math.Abs(b.Took.Hours()-r.took[i]) > 6e-4 {
				t.Errorf("%s band %d: %.4f h, want %.3f", r.id, i, b.Took.Hours(), r.took[i])
			}
		}
	}
}

// E-C6 to E-C8: what the product must be, and a log cut short. Sources: 3 CCR 910.15(b),
// read; CFIA, read.
func TestCoolingNeeds(t *testing.T) {
	long, slow := coolingRule(t, "cured-20h"), coolingRule(t, "cured-slow")
	for _, r := range []struct {
		id   string
		rule CoolingRule
		log  []Point
		c    Cured
		want Outcome
	}{
		{"E-C6 lean 2.5 %", long, c2, Cured{PPM: 156, Brine: 3.356}, Fail},
		{"E-C6 2.75 %", long, c2, Cured{PPM: 156, Brine: 3.679}, Pass},
		{"E-C6 110 ppm", long, c2, Cured{PPM: 110, Brine: 3.679}, Fail},
		{"dry enough", long, c2, Cured{PPM: 0, Water: 0.92}, Pass},
		{"E-C7", slow, c1, Cured{PPM: 90}, NotEligible},
		{"E-C8", long, hours(0, 140, 6, 43), Cured{PPM: 156, Brine: 3.679}, Incomplete},
		{"E-C8 on an unfit product", long, hours(0, 140, 6, 43), Cured{PPM: 156, Brine: 3.356}, Fail},
		{"E-C7, cut short", slow, hours(0, 140, 6, 60), Cured{PPM: 90}, NotEligible},
		{"turned back, slow", long, hours(0, 140, 2, 110, 4, 90, 5, 95, 6, 70, 12, 39), Cured{PPM: 156, Brine: 3.679}, Doubtful},
		{"turned back, quick", long, hours(0, 140, 0.5, 110, 1, 70, 2, 75, 6, 39), Cured{PPM: 156, Brine: 3.679}, Pass},
		{"still hot", long, hours(0, 140), Cured{PPM: 156, Brine: 3.679}, Incomplete},
		{"at the limit", coolingRule(t, "fast"), hours(0, 130, 1.5, 80, 6.5, 40), Cured{}, Pass},
		{"warms again", coolingRule(t, "fast"), hours(0, 140, 0.5, 90, 1, 129, 2.5, 70, 4, 39), Cured{}, Fail},
		{"ends warm again", coolingRule(t, "fast"), hours(0, 140, 1, 79, 3, 39, 4, 44), Cured{}, Incomplete},
	} {
		v, err := Cooling(r.rule, r.log, r.c)
		if err != nil || v.Outcome != r.want || v.Why == "" {
			t.Errorf("%s: %+v, %v; want %s", r.id, v, err, r.want)
		}
	}
	v, _ := Cooling(long, c2, Cured{PPM: 156, Brine: 3.679})
	if math.Abs(v.Bands[0].Took.Hours()-11.091) > 6e-4 {
		t.Errorf("E-C6: 120 to 40 °F took %.4f h", v.Bands[0].Took.Hours())
	}
	if _, err := Cooling(long, nil, Cured{}); err == nil {
		t.Error("an empty log was judged")
	}
}

// The old rule for roasts (FSIS Appendix B 1999 option 2, read on a state university's
// page): 120 to 55 °F within 6 h, slow from 120 to 80 is doubtful, then on to 40; chilling
// begins within 90 minutes of the heat. Times are derived.
func TestOldRoast(t *testing.T) {
	roast := coolingRule(t, "old roast")
	for _, r := range []struct {
		id   string
		log  []Point
		want Outcome
	}{
		{"quick", hours(0, 140, 0.5, 120, 1.5, 80, 4, 55, 7, 40), Pass},
		{"120 to 55 in exactly 6 h", hours(0, 120, 1, 80, 6, 55, 30, 40), Pass},
		{"a minute more", hours(0, 120, 1, 80, 6+1.0/60, 55, 9, 40), Fail},
		{"slow from 120 to 80", hours(0, 130, 0.5, 120, 1.6, 80, 5, 55, 9, 40), Doubtful},
		{"begun late", hours(0, 150, 1.6, 120, 2.5, 80, 5, 55, 9, 40), Doubtful},
		{"ends at 43", hours(0, 130, 0.5, 118, 1, 80, 4, 55, 6, 43), Incomplete},
		{"E-C1, 1.077 h from 120 to 80", c1, Doubtful},
		{"E-C2", c2, Fail},
	} {
		if v, err := Cooling(roast, r.log, Cured{}); err != nil || v.Outcome != r.want || v.Why == "" {
			t.Errorf("%s: %+v, %v; want %s", r.id, v, err, r.want)
		}
	}
}
