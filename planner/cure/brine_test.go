package cure

import (
	"math"
	"testing"
)

// Rows E-B1 to E-B10. Sources: brine by its definition; water activity by a formula from
// memory that agrees with USDA-ARS "PMP FAQs - Water Activity" (read) and with the list
// of a food-microbiology mailing list (read where quoted); belly make-up from the USDA
// table, from memory. Figures derived, to the places given.
func TestBrineRows(t *testing.T) {
	close := func(id string, got, want, tol float64) {
		t.Helper()
		if math.Abs(got-want) > tol {
			t.Errorf("%s: %.6f, want %v", id, got, want)
		}
	}
	for _, r := range []struct {
		id              string
		s, m, brine, aw float64
	}{
		{"E-B1", 2.5, BellyMoisture, 6.371, 0.9616},
		{"E-B2", 2.5, LeanMoisture, 3.356, 0.9810},
		{"E-B3", 2.75, LeanMoisture, 3.679, 0.9790},
		{"E-B4", 3.0, LeanMoisture, 4.000, 0.9771},
		{"E-B9", 2.5, 60, 4.000, 0.9771},
		{"E-B10", 2.0, 70, 2.778, 0.9845},
	} {
		b := Brine(r.s, r.m)
		close(r.id+" brine", b, r.brine, 5.1e-4)
		close(r.id+" aw", WaterActivity(b), r.aw, 5.1e-5)
	}
	close("E-B5", SaltForBrine(3.5, LeanMoisture), 2.611, 5.1e-4)
	close("E-B5", SaltForBrine(6, BellyMoisture), 2.345, 5.1e-4)
	close("E-B5", SaltForBrine(10, BellyMoisture), 4.082, 5.1e-4)
	for _, r := range []struct{ grams, brine, aw, list float64 }{{3.5, 3.382, 0.9809, 0.98}, {16, 13.793, 0.9044, 0.90}} { // E-B6, E-B7
		b := BrineOfWater(r.grams)
		close("E-B6, E-B7 brine", b, r.brine, 5.1e-4)
		close("E-B6, E-B7 aw", WaterActivity(b), r.aw, 5.1e-5)
		close("E-B6, E-B7 against the list", WaterActivity(b), r.list, 0.005)
	}
	s, m := Dried(2.5, BellyMoisture, 0.15)
	close("E-B8 salt", s, 2.941, 5.1e-4)
	close("E-B8 brine", Brine(s, m), 10.314, 5.1e-4)
	close("E-B8 aw", WaterActivity(Brine(s, m)), 0.9329, 5.1e-5)
	close("4.5 % NaCl, USDA-ARS", WaterActivity(4.5), 0.974, 5.1e-4)
	if Brine(0, 0) != 0 {
		t.Error("brine without salt")
	}
}

// Rows E-T1 to E-T7. Source: Food Code 1-201.10, as in Tenn. Comp. R. 0080-04-09-.01 and
// 25 TAC 228.2, read.
func TestControlRows(t *testing.T) {
	for _, r := range []struct {
		id     string
		aw, pH float64
		a      bool
		want   TCS
	}{
		{"E-T1", 0.96, 5.9, true, Assess},
		{"E-T2", 0.93, 5.5, true, NonTCS},
		{"E-T3", 0.92, 6.0, true, NonTCS},
		{"E-T4", 0.91, 5.3, false, Assess},
		{"E-T5", 0.89, 4.9, false, NonTCS},
		{"E-T6", 0.951, 4.7, true, Assess},
		{"E-T7", 0.875, 6.0, false, NonTCS},
		{"edge of table B", 0.95, 4.2, false, Assess},
		{"under it", 0.95, 4.19, false, NonTCS},
	} {
		if got := Control(r.aw, r.pH, r.a); got != r.want {
			t.Errorf("%s: %s, want %s", r.id, got, r.want)
		}
	}
}
