package cure

import (
	"fmt"
	"math"
	"testing"
)

// Values of the two slab series. Source: Crank, The Mathematics of Diffusion; the
// constant centre at Fo 0.25 is printed as 0.3145542 on a page citing it, read. The
// rest is derived from the series.
func TestFoTable(t *testing.T) {
	for _, r := range []struct{ fo, centre, mean, finite float64 }{
		{0.05, 0.003131, 0.252313, 0.034001},
		{0.10, 0.050695, 0.356823, 0.292900},
		{0.1967, 0.221713, 0.499961, 0.713828},
		{0.25, 0.314554, 0.562234, 0.830494},
		{0.30, 0.393196, 0.613236, 0.896468},
		{0.40, 0.525513, 0.697882, 0.961408},
		{0.50, 0.629223, 0.763950, 0.985616},
		{0.75, 0.799910, 0.872619, 0.998780},
		{1.00, 0.892023, 0.931260, 0.999897},
		{1.50, 0.968556, 0.979982, 0.999999},
	} {
		t.Run(fmt.Sprint(r.fo), func(t *testing.T) {
			// Six printed places.
			for _, c := range []struct {
				what      string
				got, want float64
			}{
				{"constant centre", ConstantCentre(r.fo), r.centre},
				{"constant mean", ConstantMean(r.fo), r.mean},
				{"finite centre", FiniteCentre(r.fo), r.finite},
			} {
				if math.Abs(c.got-c.want) > 5.1e-7 {
					t.Errorf("%s = %.7f, want %.6f", c.what, c.got, c.want)
				}
			}
		})
	}
	if math.Abs(ConstantCentre(0.25)-0.3145542) > 5e-8 {
		t.Errorf("constant centre at 0.25 = %.8f", ConstantCentre(0.25))
	}
	if ConstantCentre(0.0199) != 0 || FiniteCentre(0.0199) != 0 || ConstantMean(0) != 0 {
		t.Error("salt was at the centre before Fo 0.02")
	}
}

// Fo needed for a level. Source: derived from the series; ln 20/π² and ln 40/π² for
// the finite dose.
func TestFoNeeded(t *testing.T) {
	for _, r := range []struct {
		what  string
		curve func(float64) float64
		level float64
		want  float64
	}{
		{"constant centre 90 %", ConstantCentre, 0.90, 1.03110},
		{"constant centre 95 %", ConstantCentre, 0.95, 1.31203},
		{"constant mean 50 %", ConstantMean, 0.50, 0.19673},
		{"constant mean 90 %", ConstantMean, 0.90, 0.84809},
		{"finite centre 90 %", FiniteCentre, 0.90, 0.30352},
		{"finite centre 95 %", FiniteCentre, 0.95, 0.37376},
	} {
		if got := FoFor(r.curve, r.level); math.Abs(got-r.want) > 6e-6 {
			t.Errorf("%s: Fo %.6f, want %.5f", r.what, got, r.want)
		}
	}
	near(t, "ln 20/π²", FoFor(FiniteCentre, 0.90), math.Log(20)/(math.Pi*math.Pi), 1e-4)
	near(t, "ln 40/π²", FoFor(FiniteCentre, 0.95), math.Log(40)/(math.Pi*math.Pi), 1e-4)
	for _, bad := range []float64{-1, 0, 1, 2, math.NaN()} {
		if !math.IsNaN(FoFor(FiniteCentre, bad)) {
			t.Errorf("level %v was reached", bad)
		}
	}
}

func TestDiffusionRows(t *testing.T) {
	const inch = MMPerInch
	thumb := func(in float64, days float64, whole int, plus float64, wholePlus int) func(*testing.T) {
		return func(t *testing.T) {
			d := ThumbDays(in * inch)
			near(t, "days", d, days, 1e-4)
			near(t, "days + 2", d+EvenOutDays, plus, 1e-4)
			if WholeDays(d) != whole || WholeDays(d+EvenOutDays) != wholePlus {
				t.Errorf("whole days %d and %d, want %d and %d", WholeDays(d), WholeDays(d+EvenOutDays), whole, wholePlus)
			}
		}
	}
	// Days to core level, both faces salted; the row gives days to a hundredth, and
	// the rule of thumb to what it prints.
	core := func(in, fSlow, fQuick, cSlow, cQuick, rule float64) func(*testing.T) {
		return func(t *testing.T) {
			p := Path(in*inch, false)
			fin, con := FoFor(FiniteCentre, 0.95), FoFor(ConstantCentre, 0.90)
			for _, c := range []struct {
				what      string
				got, want float64
			}{
				{"finite 95 %, 1.9e-10", Days(fin, p, SaltSlow), fSlow},
				{"finite 95 %, 3.0e-10", Days(fin, p, SaltQuick), fQuick},
				{"constant 90 %, 1.9e-10", Days(con, p, SaltSlow), cSlow},
				{"constant 90 %, 3.0e-10", Days(con, p, SaltQuick), cQuick},
			} {
				if math.Abs(c.got-c.want) > 0.0051 {
					t.Errorf("%s: %.4f days, want %.2f", c.what, c.got, c.want)
				}
			}
			if math.Abs(ThumbDays(in*inch)-rule) > 0.051 {
				t.Errorf("rule of thumb %.3f, want %v", ThumbDays(in*inch), rule)
			}
		}
	}
	picture := func(fo, finite, centre, mean float64, skin bool, spells ...Spell) func(*testing.T) {
		return func(t *testing.T) {
			p := Salt(1.5*inch, skin, spells...)
			if p.Label != "salt, model" {
				t.Errorf("label %q", p.Label)
			}
			near(t, "Fo", p.Fo, fo, 4e-4) // four printed figures
			for _, c := range []struct{ got, want float64 }{{p.FiniteCentre, finite}, {p.ConstantCentre, centre}, {p.ConstantMean, mean}} {
				if c.want >= 0 && math.Abs(c.got-c.want) > 6e-5 {
					t.Errorf("got %.5f, want %.4f", c.got, c.want)
				}
			}
		}
	}
	const (
		guide = "a salt maker's home-curing guide, read where quoted"
		model = "derived: Crank's series with D of the brine study of 2015 (1.9e-10) or Meat Science 80:851 (3.0e-10)"
	)
	runRows(t, []row{
		{"E-D1", guide, thumb(1.02, 7.14, 8, 9.14, 10)},
		{"E-D2", guide, thumb(1.5, 10.5, 11, 12.5, 13)},
		{"E-D3", guide, thumb(2.0, 14, 14, 16, 16)},
		{"E-D4", guide, thumb(2.5, 17.5, 18, 19.5, 20)},
		{"E-D5", "US patent on low-salt country ham, claim 1, read; Pork Slaughtering… on the Farm p. 50, read", func(t *testing.T) {
			near(t, "dry ham", PoundDays(lb("14"), 1.5), 21, 1e-9)
			near(t, "pickle, low", PoundDays(lb("15"), 3.5), 52.5, 1e-9)
			near(t, "pickle, high", PoundDays(lb("15"), 4), 60, 1e-9)
		}},
		{"E-D6", model, core(1.02, 3.82, 2.42, 10.54, 6.68, 7.1)},
		{"E-D7", model, core(1.50, 8.26, 5.23, 22.79, 14.44, 10.5)},
		{"E-D8", model, core(2.00, 14.69, 9.30, 40.52, 25.66, 14)},
		{"E-D9", model, core(2.50, 22.95, 14.54, 63.32, 40.10, 17.5)},
		{"E-D10", model, picture(0.6333, 0.9961, 0.7331, 0.8301, false, Spell{14, SaltSlow})},
		{"E-D11", model, picture(0.3166, 0.9121, 0.4175, 0.6288, false, Spell{7, SaltSlow})},
		{"E-D12", model + "; skin seals one face (J. Cookery Sci. Japan 25(4):283, abstract, read)", func(t *testing.T) {
			picture(0.1583, 0.5847, -1, -1, true, Spell{14, SaltSlow})(t)
			near(t, "days to 95 %", Days(FoFor(FiniteCentre, 0.95), Path(1.5*inch, true), SaltSlow), 33.05, 2e-4)
		}},
		{"E-D13", "D of nitrite alone: J. Food Eng. 149:188–194, 2015, abstract, read", func(t *testing.T) {
			picture(0.01527, 0, 0, -1, false, Spell{14, 4.58e-12})(t)
			if FiniteCentre(0.01527) != 0 {
				t.Error("nitrite alone was said to have reached the centre")
			}
		}},
		{"E-D14", "Ea 60.32 kJ/mol: J. Food Eng. 149:188–194, 2015, abstract, read; derived", func(t *testing.T) {
			near(t, "D at 5 °C", Arrhenius(4.58e-12, 3200+2*180, 3200+5*180, 60_320), 6.0865e-12, 1e-4)
			// The same energy from 2 to 12 °C: × 2.521.
			near(t, "D at 12 °C", Arrhenius(1, 3200+2*180, 3200+12*180, 60_320), 2.521, 1e-4)
		}},
		{"E-D15", model + "; frozen meat takes no cure (forum, read where quoted; common practice)", picture(0.4976, 0.9853, -1, -1, false, Spell{11, SaltSlow}, Spell{3, 0})},
		{"E-D16", "derived; density a mix rule on USDA composition, from memory", func(t *testing.T) {
			mm := Thickness(g(2270), 200, 300, BellyDensity)
			near(t, "mm", mm, 38.41, 2e-4)
			near(t, "in", mm/inch, 1.512, 3e-4)
		}},
		{"E-D17", model, core(1.75, 11.25, 7.12, 31.03, 19.65, 12.25)},
		{"E-D18", "proposed default plan on the rows above", func(t *testing.T) {
			p, err := DefaultPlan(1.5*inch, false)
			if err != nil || p.Days != 13 {
				t.Fatalf("plan of %d days, %v, want 13", p.Days, err)
			}
			near(t, "thumb", p.Thumb, 12.5, 1e-9)
			near(t, "salt", p.Salt, 8.26, 1e-3)
		}},
	}, "E-D", 18)
}

func TestDefaultPlanEdges(t *testing.T) {
	thin, _ := DefaultPlan(0.5*MMPerInch, false)
	if thin.Days != LeastDays {
		t.Errorf("a thin slab lies %d days, want at least %d", thin.Days, LeastDays)
	}
	skin, _ := DefaultPlan(1.5*MMPerInch, true)
	if skin.Days != 34 || len(skin.Reasons) != 4 {
		t.Errorf("skin on: %d days, %q", skin.Days, skin.Reasons)
	}
	for _, bad := range []float64{0, -1, 501, math.NaN(), math.Inf(1)} {
		if _, err := DefaultPlan(bad, false); err == nil {
			t.Errorf("%v mm was planned", bad)
		}
	}
}

// The series against the diffusion equation solved by finite volumes on half a slab,
// Crank–Nicolson after four half steps of backward Euler, which share nothing with
// the series. The grid's own error is under 5e-7 here.
func TestSeriesAgainstFiniteDifferences(t *testing.T) {
	const (
		cells = 1600
		steps = 1600
		tol   = 1e-6
	)
	for _, fo := range []float64{0.05, 0.1, 0.25, 0.5, 1.0} {
		centre, mean := slab(cells, steps, fo, true)
		if d := centre - ConstantCentre(fo); math.Abs(d) > tol {
			t.Errorf("Fo %v: constant centre off by %.2g", fo, d)
		}
		if d := mean - ConstantMean(fo); math.Abs(d) > tol {
			t.Errorf("Fo %v: constant mean off by %.2g", fo, d)
		}
		centre, mean = slab(cells, steps, fo, false)
		if d := centre - FiniteCentre(fo); math.Abs(d) > tol {
			t.Errorf("Fo %v: finite centre off by %.2g", fo, d)
		}
		if math.Abs(mean-1) > 1e-9 {
			t.Errorf("Fo %v: the finite dose became %v", fo, mean)
		}
	}
}

// slab solves u' = u” on 0 (centre) to 1 (face) up to time fo, and returns the value
// at the centre and the mean. held: the face is kept at 1 from an empty slab;
// otherwise a dose of 1 starts in the outermost cell and nothing leaves.
func slab(n, steps int, fo float64, held bool) (centre, mean float64) {
	h := 1 / float64(n)
	u := make([]float64, n)
	if !held {
		u[n-1] = 1 / h
	}
	lower, diag, upper, rhs := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	flux := func(i int) float64 { // h²·u” in cell i
		f := 0.0
		if i > 0 {
			f += u[i-1] - u[i]
		}
		if i < n-1 {
			f += u[i+1] - u[i]
		} else if held {
			f += 2 * (1 - u[i]) // half a cell to the face
		}
		return f
	}
	advance := func(dt, implicit float64) {
		r := dt / (h * h)
		for i := range u {
			rhs[i] = u[i] + r*(1-implicit)*flux(i)
			d := 0.0
			lower[i], upper[i] = 0, 0
			if i > 0 {
				lower[i] = -r * implicit
				d++
			}
			if i < n-1 {
				upper[i] = -r * implicit
				d++
			} else if held {
				d += 2
				rhs[i] += 2 * r * implicit
			}
			diag[i] = 1 + r*implicit*d
		}
		for i := 1; i < n; i++ {
			m := lower[i] / diag[i-1]
			diag[i] -= m * upper[i-1]
			rhs[i] -= m * rhs[i-1]
		}
		u[n-1] = rhs[n-1] / diag[n-1]
		for i := n - 2; i >= 0; i-- {
			u[i] = (rhs[i] - upper[i]*u[i+1]) / diag[i]
		}
	}
	dt := fo / float64(steps)
	for range 4 {
		advance(dt/2, 1)
	}
	for range steps - 2 {
		advance(dt, 0.5)
	}
	for _, v := range u {
		mean += v * h
	}
	return (9*u[0] - u[1]) / 8, mean
}
