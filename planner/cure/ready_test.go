package cure

import (
	"math"
	"testing"
	"time"

	"flitchbook/planner/unit"
)

// Rows E-D12, E-D15, E-D18, E-P5 and E-P12 as dates. Sources: proposed default plan on
// the rows of TestDiffusionRows; a stall of three days as in E-D15 (frozen meat takes no
// cure: forum, read where quoted; common practice).
func TestReadyRows(t *testing.T) {
	day := unit.DayOf
	for _, r := range []struct {
		id      string
		sealed  unit.Day
		inches  float64
		skin    bool
		stalled time.Duration
		days    int
		ready   unit.Day
	}{
		{"E-D18", day(2025, 12, 20), 1.5, false, 0, 13, day(2026, 1, 2)},
		{"E-P5, 14 days over the year", day(2025, 12, 20), 1.6, false, 0, 14, day(2026, 1, 3)},
		{"E-P12, 13 days over February", day(2025, 2, 21), 1.5, false, 0, 13, day(2025, 3, 6)},
		{"E-D15, three days frozen", day(2026, 10, 10), 1.5, false, 72 * time.Hour, 16, day(2026, 10, 26)},
		{"half a day counts whole", day(2026, 10, 10), 2.0, false, time.Hour, 17, day(2026, 10, 27)},
		{"at least ten, thin", day(2026, 10, 10), 0.5, false, 0, 10, day(2026, 10, 20)},
		{"E-D12, skin on", day(2026, 10, 10), 1.5, true, 0, 34, day(2026, 11, 13)},
	} {
		got, err := Ready(r.sealed, r.inches*MMPerInch, r.skin, r.stalled)
		if err != nil || got.Total != r.days || got.Ready != r.ready || got.Picture.Label != SaltModel {
			t.Errorf("%s: %d days, %s, %v; want %d, %s", r.id, got.Total, got.Ready, err, r.days, r.ready)
		}
		if got.Picture.FiniteCentre < CoreLevel-1e-9 {
			t.Errorf("%s: ready with %.4f at the centre", r.id, got.Picture.FiniteCentre)
		}
	}
	for _, bad := range []func() (Readiness, error){
		func() (Readiness, error) { return Ready(0, 38, false, 0) },
		func() (Readiness, error) { return Ready(1, math.NaN(), false, 0) },
		func() (Readiness, error) { return Ready(1, 38, false, -1) },
	} {
		if _, err := bad(); err == nil {
			t.Error("a ready date out of nothing")
		}
	}
}
