package cure

import (
	"testing"

	"flitchbook/planner/unit"
)

// Rows E-Y1 to E-Y6. Sources: the stages' shares are common practice and a forum's, read
// where quoted; the figures are derived: weight × (1 − a)(1 − b)(1 − c).
func TestLossRows(t *testing.T) {
	const src = "shares: common practice; derived"
	way := func(green float64, a, b, c unit.Ratio, after []float64, kept float64) func(*testing.T) {
		return func(t *testing.T) {
			got, share, err := Lessen(g(green), Loss{"in cure", a}, Loss{"smoke and chill", b}, Loss{"trim", c})
			if err != nil {
				t.Fatal(err)
			}
			for i, w := range after {
				near(t, "after a stage", got[i].Grams(), w, 0.051/w) // to a tenth of a gram
			}
			near(t, "kept", float64(share)/1e6, kept, 1e-5)
		}
	}
	green := func(pounds string, kept unit.Ratio, want float64) func(*testing.T) {
		return func(t *testing.T) {
			w, err := GreenFor(lb(pounds), kept)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "green", w.Pounds(), want, 0.00051/want)
			if back, _, _ := Lessen(w, Loss{"all", unit.One - kept}); back[0] < lb(pounds) {
				t.Errorf("%s comes to %s", w, back[0])
			}
		}
	}
	const p = unit.Percent
	runRows(t, []row{
		{"E-Y1", src, way(2270, 3*p, 10*p, 5*p, []float64{2201.9, 1981.7, 1882.6}, 0.82935)},
		{"E-Y2", src, way(2270, 5*p, 12*p, 0, []float64{2156.5, 1897.7, 1897.7}, 0.8360)},
		{"E-Y3", src, way(2410, 2*p, 8*p, 6*p, []float64{2361.8, 2172.9, 2042.5}, 0.847504)},
		{"E-Y4", src, green("2.00", 84*p, 2.381)},
		{"E-Y5", "derived", func(t *testing.T) {
			left, share, err := PouredOff(g(2270), 25_000, g(45), 12*p)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "salt left", left.Grams(), 51.35, 1e-4)
			near(t, "of the drained piece", float64(share)/1e4, 2.308, 2.2e-4)
		}},
		{"E-Y6", src, green("3.00", 78*p, 3.846)},
	}, "E-Y", 6)
	for _, bad := range []func() error{
		func() error { _, _, err := Lessen(0, Loss{"trim", p}); return err },
		func() error { _, _, err := Lessen(g(1), Loss{"trim", unit.One}); return err },
		func() error { _, _, err := Lessen(g(1), Loss{"trim", -1}); return err },
		func() error { _, err := GreenFor(g(1), 0); return err },
		func() error { _, err := GreenFor(0, p); return err },
		func() error { _, _, err := PouredOff(g(100), p, g(100), 0); return err },
		func() error { _, _, err := PouredOff(g(100), p, g(50), 12*p); return err },
	} {
		if bad() == nil {
			t.Error("a loss out of nothing")
		}
	}
	low, high := UsualLosses()
	_, most, _ := Lessen(g(2270), low...)
	_, least, _ := Lessen(g(2270), high...)
	if !(least < 83*p && 83*p < most) {
		t.Errorf("usual ways keep %s to %s", least, most)
	}
}
