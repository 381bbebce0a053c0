package reckon_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

func pairs(first, second, scale string, figures ...float64) string {
	var out []string
	for i := 0; i < len(figures); i += 2 {
		out = append(out, fmt.Sprintf(`{%q: %v, %q: "%v %s"}`, first, figures[i], second, figures[i+1], scale))
	}
	return strings.Join(out, ", ")
}

// Rows E-L1 to E-L13 as documents. Source: FSIS Appendix A (1999, mirror, read), derived as
// in planner/heat; E-L14: HACCP model for bacon, read.
func TestHeatRowsAsDocuments(t *testing.T) {
	for _, r := range []struct {
		id    string
		scale string
		log   []float64
		logs  float64
		met   bool
	}{
		{"E-L1", "F", []float64{0, 130, 112, 130}, 6.519, true},
		{"E-L2", "F", []float64{0, 145, 4, 145}, 7.363, true},
		{"E-L3", "F", []float64{0, 145, 3, 145}, 5.522, false},
		{"E-L4", "F", []float64{0, 120, 10, 128, 20, 128, 30, 128, 40, 120}, 0, false},
		{"E-L5", "F", []float64{0, 130, 5, 140, 10, 145, 15, 140, 20, 130}, 13.208, true},
		{"E-L6", "F", []float64{0, 110, 15, 125, 30, 135, 45, 140, 60, 140, 75, 120}, 16.443, true},
		{"E-L7", "F", []float64{0, 128, 20, 134, 40, 136, 60, 131}, 7.741, true},
		{"E-L8", "F", []float64{0, 120, 25, 145}, 7.741, true},
		{"E-L9", "F", []float64{0, 126, 10, 131, 25, 134, 40, 134, 50, 129}, 4.672, false},
		{"E-L10", "C", []float64{0, 50, 10, 58, 20, 62, 30, 60}, 16.166, true},
		{"E-L11", "F", []float64{0, 140, 12, 140}, 6.985, true},
		{"E-L12", "F", []float64{0, 135, 30, 135}, 5.522, false},
		{"E-L13", "F", []float64{0, 125, 10, 135, 20, 145, 30, 150}, 42.313, true},
	} {
		var out struct {
			Logs   float64
			Met    bool `json:"reaches_6.5_logs"`
			Status string
		}
		reckonInto(t, "heat", `{"points": [`+pairs("minutes", "temp", r.scale, r.log...)+`]}`, &out)
		if math.Abs(out.Logs-r.logs) > 6e-4 || out.Met != r.met || out.Status != "not fully cooked – cook before eating" {
			t.Errorf("%s: %+v, want %v logs", r.id, out, r.logs)
		}
	}
}

// Rows E-C1 to E-C8 as documents. Sources as in planner/heat: FSIS Appendix B 1999, CFIA, 3
// CCR 910.15(b), Food Code 3-501.14.
func TestCoolingRowsAsDocuments(t *testing.T) {
	c2 := []float64{0, 140, 1, 118, 2, 100, 3, 88, 4, 80, 6, 66, 8, 56, 10, 48, 12, 40}
	for _, r := range []struct {
		id   string
		ppm  int
		salt float64
		log  []float64
		want map[string]string
	}{
		{"E-C1", 156, 2.75, []float64{0, 142, 1, 90, 2, 70, 4, 50, 6, 38}, map[string]string{"fast": "pass", "cured-slow": "pass", "food code": "pass"}},
		{"E-C2, E-C6", 156, 2.75, c2, map[string]string{"fast": "fail", "cured-slow": "pass", "food code": "fail", "cured-20h": "pass"}},
		{"E-C3", 156, 2.75, []float64{0, 135, 2, 110, 5, 85, 8, 70, 12, 52, 16, 44}, map[string]string{"fast": "fail", "cured-slow": "fail", "food code": "fail"}},
		{"E-C4", 156, 2.75, []float64{0, 128, 1, 84, 2, 66, 4, 48, 8, 40}, map[string]string{"fast": "fail", "cured-slow": "pass", "food code": "fail"}},
		{"E-C5", 156, 2.75, []float64{0, 150, 0.5, 120, 1, 96, 2, 76, 3, 62, 5, 48, 7, 39}, map[string]string{"fast": "pass", "cured-slow": "pass", "food code": "fail"}},
		{"E-C6, lean 2.5 %", 156, 2.5, c2, map[string]string{"cured-20h": "fail"}},
		{"E-C6, 110 ppm", 110, 2.75, c2, map[string]string{"cured-20h": "fail"}},
		{"E-C7", 90, 2.75, []float64{0, 142, 1, 90, 2, 70, 4, 50, 6, 38}, map[string]string{"cured-slow": "not eligible"}},
		{"E-C8", 156, 2.75, []float64{0, 140, 6, 43}, map[string]string{"cured-20h": "incomplete"}},
		{"E-C8, unfit product", 110, 2.75, []float64{0, 140, 6, 43}, map[string]string{"cured-20h": "fail"}},
	} {
		var out struct {
			Rules []struct{ Rule, Outcome, Why, Source string }
		}
		reckonInto(t, "cooling", fmt.Sprintf(`{"ingoing": "%d ppm", "salt_percent": %v, "points": [%s]}`, r.ppm, r.salt, pairs("hours", "temp", "F", r.log...)), &out)
		seen := 0
		for _, rule := range out.Rules {
			if want, ok := r.want[rule.Rule]; ok {
				seen++
				if rule.Outcome != want || rule.Why == "" || rule.Source == "" {
					t.Errorf("%s: %+v, want %s", r.id, rule, want)
				}
			}
		}
		if seen != len(r.want) {
			t.Errorf("%s: %d of %d rules", r.id, seen, len(r.want))
		}
	}
}

// Rows E-D1 to E-D4, E-D6 to E-D9, E-D12, E-D17 and E-D18 as documents. Sources as in
// planner/cure: a salt maker's guide as quoted; Crank's series with D 1.9e-10.
func TestReadyRowsAsDocuments(t *testing.T) {
	for _, r := range []struct {
		id         string
		inches     float64
		skin       bool
		rule, salt float64
		days       int
	}{
		{"E-D1, E-D6", 1.02, false, 9.14, 3.82, 10},
		{"E-D2, E-D7, E-D18", 1.5, false, 12.5, 8.26, 13},
		{"E-D17", 1.75, false, 14.25, 11.25, 15},
		{"E-D3, E-D8", 2, false, 16, 14.69, 16},
		{"E-D4, E-D9", 2.5, false, 19.5, 22.95, 23},
		{"E-D12", 1.5, true, 12.5, 33.05, 34},
	} {
		var out struct {
			Rule  float64 `json:"rule_days"`
			Salt  float64 `json:"salt_days"`
			Days  int
			Model string
		}
		reckonInto(t, "ready", fmt.Sprintf(`{"sealed": "2025-12-20", "thickness_in": %v, "skin_on": %v}`, r.inches, r.skin), &out)
		if math.Abs(out.Rule-r.rule) > 0.0051 || math.Abs(out.Salt-r.salt) > 0.0051 || out.Days != r.days || out.Model != "salt, model" {
			t.Errorf("%s: %+v", r.id, out)
		}
	}
}
