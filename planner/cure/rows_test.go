package cure

import (
	"fmt"
	"math"
	"math/big"
	"testing"

	"flitchbook/planner/unit"
)

// Rows of worked figures, each with where it comes from. "derived" is arithmetic on
// figures of the named source; "read where quoted" means the source was seen as
// another page quotes it. The tolerance is relative 1e-4 unless the row says else.

const directive = "FSIS Directive 7620.3, Processing Inspectors' Calculations Handbook, as quoted"

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if d := math.Abs(got - want); !(d <= tol*math.Max(math.Abs(want), 1e-300)) {
		t.Errorf("%s = %.8g, want %.8g", what, got, want)
	}
}

func nearPPM(t *testing.T, got PPM, want float64) {
	t.Helper()
	near(t, "nitrite in ppm", float64(got)/1000, want, 1e-4)
}

func answer(t *testing.T, v Verdict, want Answer) {
	t.Helper()
	if v.Answer != want || len(v.Reasons) == 0 {
		t.Errorf("answer %q (%v), want %q with a reason", v.Answer, v.Reasons, want)
	}
}

func g(grams float64) unit.Weight { return unit.WeightOfGrams(grams) }
func lb(pounds string) unit.Weight {
	w, err := unit.ParseWeight(pounds + " lb")
	if err != nil {
		panic(err)
	}
	return w
}

// seventeenth is 1 oz of nitrite to 1 lb of salt, 1/17, to a part in a million.
const seventeenth = unit.Ratio(58_824)

func lot(f unit.Ratio) Lot { return Lot{ID: "C-1", Nitrite: f} }

const usual = unit.Ratio(62_500)

func dose(grams float64, f unit.Ratio) Dose { return Dose{lot(f), g(grams)} }

func bare(grams float64) Slab { return Slab{Tag: "B4-03", Green: g(grams)} }

func limit(t *testing.T, id string) Limit {
	t.Helper()
	for _, l := range Limits() {
		if l.ID == id {
			return l
		}
	}
	t.Fatalf("no limit %q", id)
	return Limit{}
}

type row struct {
	id     string
	source string
	check  func(t *testing.T)
}

func runRows(t *testing.T, rows []row, prefix string, upTo int) {
	t.Helper()
	seen := map[string]bool{}
	for _, r := range rows {
		if r.source == "" || seen[r.id] {
			t.Errorf("row %s has no source or comes twice", r.id)
		}
		seen[r.id] = true
		t.Run(r.id, r.check)
	}
	for i := 1; i <= upTo; i++ {
		if id := fmt.Sprintf("%s%d", prefix, i); !seen[id] {
			t.Errorf("row %s is missing", id)
		}
	}
}

func TestNitriteRows(t *testing.T) {
	us := USDryBacon()
	hundred := lb("100")
	pure := lot(unit.One)
	runRows(t, []row{
		{"E-N1", "9 CFR 424.21(c), read where quoted", func(t *testing.T) {
			nearPPM(t, Ingoing(hundred, Dose{pure, unit.Ounce / 4}), 156.25)
		}},
		{"E-N2", "9 CFR 424.21(c), read where quoted", func(t *testing.T) {
			nearPPM(t, Ingoing(hundred, Dose{pure, unit.Ounce}), 625)
		}},
		{"E-N3", "usual rate on supplier pages, read where quoted; " + directive, func(t *testing.T) {
			nearPPM(t, Ingoing(hundred, Dose{lot(usual), 4 * unit.Ounce}), 156.25)
		}},
		{"E-N4", "usual rate on supplier pages, read where quoted; limit 9 CFR 424.22(b)(3)", func(t *testing.T) {
			v := Judge(us, Slab{Green: lb("5.00")}, 0, dose(5.67, usual))
			nearPPM(t, v.PPM, 156.2526)
			answer(t, v, OK)
		}},
		{"E-N5", directive + " pp. 15, 24", func(t *testing.T) {
			for target, want := range map[PPM]float64{120: 4.3584, 150: 5.4480, 156: 5.6659, 200: 7.2640} {
				near(t, "dose", DoseFor(target*MgPerKg, g(2270), usual).Grams(), want, 1e-4)
			}
		}},
		{"E-N6", directive + " pp. 15, 24", func(t *testing.T) {
			for target, want := range map[PPM]float64{120: 1.920, 150: 2.400, 156: 2.496, 180: 2.880, 200: 3.200} {
				near(t, "dose", DoseFor(target*MgPerKg, unit.Kilogram, usual).Grams(), want, 1e-4)
			}
		}},
		{"E-N7", "derived on " + directive, func(t *testing.T) {
			v := Judge(us, bare(2270), 0, Dose{lot(seventeenth), DoseFor(156*MgPerKg, g(2270), usual)})
			nearPPM(t, v.PPM, 146.8235)
			answer(t, v, OK)
		}},
		{"E-N8", "derived on " + directive, func(t *testing.T) {
			v := Judge(us, bare(2270), 0, Dose{lot(usual), DoseFor(156*MgPerKg, g(2270), seventeenth)})
			nearPPM(t, v.PPM, 165.75)
			answer(t, v, OK)
		}},
		{"E-N9", directive + ", skin-on belly, read where quoted; derived", func(t *testing.T) {
			d := DoseFor(180*MgPerKg, g(4540), usual)
			near(t, "dose", d.Grams(), 13.0752, 1e-4)
			v := Judge(us, Slab{Green: g(4540), SkinOn: true, Skin: 10 * unit.Percent}, 0, Dose{lot(usual), d})
			nearPPM(t, v.PPM, 200.0)
			answer(t, v, OK)
		}},
		{"E-N10", "derived; skin share from one carcass study", func(t *testing.T) {
			d := DoseFor(180*MgPerKg, g(4540), usual)
			v := Judge(us, Slab{Green: g(4540), SkinOn: true, Skin: 133_250}, 0, Dose{lot(usual), d})
			nearPPM(t, v.PPM, 207.67)
			answer(t, v, Block)
		}},
		{"E-N11", directive + " p. 19", func(t *testing.T) {
			d := Dose{pure, lb("0.96")}
			nearPPM(t, PumpedIn(lb("800"), 10*unit.Percent, d), 120)
			answer(t, JudgePumped(limit(t, "us-bacon-pumped"), lb("800"), 10*unit.Percent, d), OK)
		}},
		{"E-N12", directive + " p. 19; tolerance as a former inspector quotes it", func(t *testing.T) {
			v := JudgePumped(limit(t, "us-bacon-pumped"), lb("750"), 10*unit.Percent, Dose{lot(usual), lb("15")})
			nearPPM(t, v.PPM, 125)
			answer(t, v, Warn)
		}},
		{"E-N13", "derived on " + directive, func(t *testing.T) {
			nearPPM(t, FromMix(lb("10.5"), lb("0.5"), lb("9.5"), Dose{lot(usual), lb("0.5")}), 156.6416)
		}},
		{"E-N14", directive + " p. 28, read where quoted", func(t *testing.T) {
			// An ounce of nitrite and 0.64 oz of nitrate to a pound of salt.
			v := Judge(us, bare(2270), 0, Dose{Lot{"C-2", 56_690, 36_280}, g(5.67)})
			answer(t, v, Block)
			v = Judge(us, bare(2270), 0, Dose{Lot{"C-2", 56_690, 36_280}, g(0.1)})
			answer(t, v, Block)
		}},
		{"E-N15", "derived on " + directive, func(t *testing.T) {
			nearPPM(t, Ingoing(g(2270), dose(3.0, usual), dose(2.7, 58_800)), 152.537)
		}},
		{"E-N16", "9 CFR 424.22(b)(3), read where quoted", func(t *testing.T) {
			v := Judge(us, bare(2270), 0, dose(10, usual))
			nearPPM(t, v.PPM, 275.33)
			answer(t, v, Block)
		}},
		{"E-N17", "derived from molar masses; EFSA Journal 2017;15(6):4786 table 5", func(t *testing.T) {
			a, _ := Convert(150*MgPerKg, SodiumNitrite, NitriteIon)
			b, _ := Convert(175*MgPerKg, SodiumNitrite, NitriteIon)
			nearPPM(t, a, 100.019)
			nearPPM(t, b, 116.689)
		}},
		{"E-N18", "derived from molar masses; 9 CFR 424.22(b) prints 148, 123, 49, 99, 246", func(t *testing.T) {
			for na, k := range map[PPM]float64{120: 148.02, 100: 123.35, 40: 49.34, 80: 98.68, 200: 246.69} {
				got, _ := Convert(na*MgPerKg, SodiumNitrite, PotassiumNitrite)
				nearPPM(t, got, k)
			}
		}},
		{"E-N19", directive + " p. 19", func(t *testing.T) {
			nearPPM(t, PumpedIn(lb("750"), 12*unit.Percent, Dose{lot(usual), lb("12")}), 120)
		}},
		{"E-N20", "derived on " + directive, func(t *testing.T) {
			p := FromMix(lb("14"), lb("0.6"), lb("11"), Dose{lot(usual), lb("0.75")})
			nearPPM(t, p, 182.630)
			answer(t, Judge(us, Slab{Green: lb("11")}, 0, Dose{lot(usual), lb("0.75").MulDiv(6, 140)}), OK)
		}},
		{"E-N21", "derived on " + directive, func(t *testing.T) {
			v := Judge(us, bare(2400), 0, dose(4, usual), dose(2, 40_000))
			nearPPM(t, v.PPM, 137.5)
			answer(t, v, OK)
		}},
		{"E-N22", directive + " p. 12, policy floor, read where quoted", func(t *testing.T) {
			v := Judge(us, bare(2270), 0, dose(4, usual))
			nearPPM(t, v.PPM, 110.132)
			answer(t, v, Warn)
		}},
		{"E-N23", "derived from molar masses; Reg. (EU) 2023/2108 annex, from memory", func(t *testing.T) {
			a, _ := Convert(120*MgPerKg, SodiumNitrite, NitriteIon)
			b, _ := Convert(80*MgPerKg, NitriteIon, SodiumNitrite)
			nearPPM(t, a, 80.015)
			nearPPM(t, b, 119.977)
		}},
		{"E-N24", "9 CFR 424.21(c), from memory", func(t *testing.T) {
			nearPPM(t, Ingoing(hundred, Dose{pure, unit.Ounce * 7 / 8}), 546.875)
		}},
		{"E-N25", "proposed rule: the larger of 10 % and the measured skin", func(t *testing.T) {
			s := Slab{Green: g(4540), SkinOn: true, Skin: 8 * unit.Percent}
			v := Judge(us, s, 0, Dose{lot(usual), DoseFor(180*MgPerKg, g(4540), usual)})
			answer(t, v, OK)
			nearPPM(t, v.PPM, 200)
			// One nanogram more and it is over: the limit is exact.
			answer(t, Judge(us, s, 0, Dose{lot(usual), g(13.0752) + 1}), Block)
		}},
	}, "E-N", 25)
}

func TestWeighingRows(t *testing.T) {
	us := USDryBacon()
	check := func(step unit.Weight, grams float64, target PPM, delta, low, high float64, want Answer) func(*testing.T) {
		return func(t *testing.T) {
			w := g(grams)
			// The row gives Δ to four figures: half of its last place.
			got := float64(WeighingError(step, w, usual)) / 1000
			near(t, "Δppm", got, delta, 0.005/delta)
			// And the band to a tenth.
			near(t, "low", float64(target)-got, low, 0.051/low)
			near(t, "high", float64(target)+got, high, 0.051/high)
			answer(t, Judge(us, Slab{Green: w}, step, Dose{lot(usual), DoseFor(target*MgPerKg, w, usual)}), want)
		}
	}
	const src = "derived: half a scale step on the cure"
	runRows(t, []row{
		{"E-W1", src, check(unit.Gram, 2270, 156, 13.77, 142.2, 169.8, OK)},
		{"E-W2", src, check(unit.Gram/10, 2270, 156, 1.38, 154.6, 157.4, OK)},
		{"E-W3", src, check(2*unit.Gram, 2270, 156, 27.53, 128.5, 183.5, OK)},
		{"E-W4", src, check(unit.Gram, 2155, 190, 14.50, 175.5, 204.5, Warn)},
		{"E-W5", src, check(unit.Gram/10, 2155, 190, 1.450, 188.5, 191.5, OK)},
	}, "E-W", 5)
}

func TestRecipeRows(t *testing.T) {
	mix := func(meat unit.Weight, salt, sugar unit.Ratio, target PPM, f unit.Ratio) Mix {
		return Mix{Meat: meat, Base: OnMeat, Salt: salt, Sugar: sugar, Target: target * MgPerKg, Lot: lot(f)}
	}
	check := func(m Mix, cure, plain, sugar float64) func(*testing.T) {
		return func(t *testing.T) {
			a, err := m.Amounts()
			if err != nil {
				t.Fatal(err)
			}
			near(t, "curing salt", a.CuringSalt.Grams(), cure, 1e-4)
			near(t, "plain salt", a.PlainSalt.Grams(), plain, 1e-4)
			near(t, "sugar", a.Sugar.Grams(), sugar, 1e-4)
		}
	}
	const src = "common practice for the shares; derived on " + directive
	total := mix(g(2270), 25_000, 10_000, 156, usual)
	total.Base = OnTotal
	brine := mix(g(3000), 25_000, 10_000, 120, usual)
	brine.Base, brine.Water = OnBrine, g(1500)
	runRows(t, []row{
		{"E-R1", src, check(mix(g(2270), 25_000, 10_000, 156, usual), 5.6659, 51.4382, 22.700)},
		{"E-R2", src, check(mix(g(2270), 27_500, 15_000, 150, usual), 5.4480, 57.3175, 34.050)},
		{"E-R3", src, check(mix(g(2155), 22_500, 10_000, 120, usual), 4.1376, 44.6085, 21.550)},
		{"E-R4", src, check(mix(lb("5.00"), 30_000, 12_500, 200, usual), 7.2575, 61.2350, 28.3495)},
		{"E-R5", src, check(mix(g(2480), 25_000, 10_000, 156, seventeenth), 6.5770, 55.8099, 24.800)},
		{"E-R6", src, func(t *testing.T) {
			check(total, 5.6659, 53.5057, 23.5270)(t)
			a, _ := total.Amounts()
			near(t, "T", a.Whole.Grams(), 2352.699, 1e-4)
		}},
		{"E-R7", "common practice; immersion limit 9 CFR 424.22(b)(2), read where quoted", func(t *testing.T) {
			check(brine, 8.64, 104.4, 45)(t)
			d := dose(8.64, usual)
			even, ceiling := Immersed(g(3000), g(1500), d)
			nearPPM(t, even, 120)
			nearPPM(t, ceiling, 180)
			answer(t, JudgeImmersed(limit(t, "us-bacon-immersion"), g(3000), g(1500), d), Warn)
		}},
		{"E-R8", src, func(t *testing.T) {
			var meat, cure, plain, sugar unit.Weight
			shown := []string{"5.67 g", "5.38 g", "6.02 g", "5.79 g", "5.47 g", "5.65 g"}
			for i, w := range []float64{2270, 2155, 2410, 2318, 2190, 2265} {
				a, err := mix(g(w), 25_000, 10_000, 156, usual).Amounts()
				if err != nil {
					t.Fatal(err)
				}
				if a.CuringSalt.G(2) != shown[i] {
					t.Errorf("slab of %v g: curing salt %s, want %s", w, a.CuringSalt.G(2), shown[i])
				}
				meat, cure, plain, sugar = meat+g(w), cure+a.CuringSalt, plain+a.PlainSalt, sugar+a.Sugar
			}
			near(t, "meat", meat.Grams(), 13608, 0)
			near(t, "curing salt", cure.Grams(), 33.966, 1e-4)
			near(t, "plain salt", plain.Grams(), 308.357, 1e-4)
			near(t, "sugar", sugar.Grams(), 136.08, 1e-4)
		}},
		{"E-R9", src, check(mix(g(1985), 20_000, 10_000, 200, usual), 6.3520, 33.7450, 19.850)},
	}, "E-R", 9)
}

// An all-in-one cure of 0.6 % nitrite brings more salt than the recipe wants.
func TestAllInOneCureIsRefused(t *testing.T) {
	_, err := Mix{Meat: g(2270), Base: OnMeat, Salt: 25_000, Target: 156 * MgPerKg, Lot: lot(6_000)}.Amounts()
	if err == nil {
		t.Fatal("accepted with negative plain salt")
	}
	if want := "the curing salt alone brings 58.7 g of salt and the recipe wants 56.8 g: choose a stronger curing salt or more salt"; err.Error() != want {
		t.Errorf("refused with %q, want %q", err, want)
	}
	for _, m := range []Mix{
		{}, {Meat: g(1), Base: "bath", Lot: lot(usual)}, {Meat: g(1), Base: OnMeat},
		{Meat: g(1), Base: OnMeat, Water: g(1), Lot: lot(usual)}, {Meat: g(1), Base: OnBrine, Lot: lot(usual)},
		{Meat: g(1), Base: OnTotal, Salt: 600_000, Sugar: 400_000, Lot: lot(usual)},
		{Meat: g(1), Base: OnMeat, Salt: -1, Lot: lot(usual)}, {Meat: g(1), Base: OnMeat, Target: -1, Lot: lot(usual)},
	} {
		if _, err := m.Amounts(); err == nil {
			t.Errorf("%+v was accepted", m)
		}
	}
}

func TestLimitsAreSound(t *testing.T) {
	seen := map[string]bool{}
	for _, l := range Limits() {
		if err := l.Check(); err != nil {
			t.Error(err)
		}
		if seen[l.ID] || l.ReadHow == "" || l.SkinRule.Source == "" {
			t.Errorf("limit %q comes twice or does not say how it was read", l.ID)
		}
		seen[l.ID] = true
	}
	if Limits()[0].ID != USDryBacon().ID {
		t.Error("the United States limit for dry-cured bacon is not first")
	}
	// Ion and residual limits, which the same slab meets otherwise.
	answer(t, Judge(limit(t, "eu-added-ion"), bare(1000), 0, dose(1.919, usual)), OK)
	answer(t, Judge(limit(t, "eu-added-ion"), bare(1000), 0, dose(1.920, usual)), Block) // 120 salt is 80.015 ion
	answer(t, Judge(limit(t, "eu-dry-residual"), bare(1000), 0, dose(1.9, usual)), Warn)
	answer(t, Judge(limit(t, "ca-side-bacon"), bare(1000), 0, dose(1.921, usual)), Block)
	answer(t, JudgePumped(limit(t, "us-bacon-pumped"), g(1000), 10*unit.Percent, dose(14, usual)), Block) // 87.5
	answer(t, JudgePumped(limit(t, "us-bacon-pumped"), g(1000), 10*unit.Percent, dose(24, usual)), Block) // 150
	if _, ok := Convert(1, SodiumNitrite, SodiumNitrate); ok {
		t.Error("nitrite was counted as nitrate")
	}
	// Factors read on a summary page of Reg. (EU) 2023/2108: 0.67, 0.73, 0.61; exact figures derived.
	for from, want := range map[Compound]float64{SodiumNitrate: 0.72951, PotassiumNitrate: 0.61328} {
		p, _ := Convert(1000*MgPerKg, from, NitrateIon)
		near(t, string(from), float64(p)/1e6, want, 1e-4)
	}
}

func TestPPMText(t *testing.T) {
	for in, want := range map[string]PPM{"156.25 ppm": 156_250, "200": 200_000, " 0.5ppm": 500} {
		if got, err := ParsePPM(in); err != nil || got != want {
			t.Errorf("ParsePPM(%q) = %d, %v, want %d", in, got, err, want)
		}
	}
	for _, in := range []string{"", "ppm", "-1 ppm", "1.2345 ppm", "156,25 ppm", "1 g"} {
		if p, err := ParsePPM(in); err == nil {
			t.Errorf("ParsePPM(%q) = %d, want an error", in, p)
		}
	}
	for p, want := range map[PPM]string{156_250: "156.25 ppm", 200_000: "200 ppm", 1: "0.001 ppm", 0: "0 ppm"} {
		if p.String() != want {
			t.Errorf("PPM(%d) = %q, want %q", int64(p), p.String(), want)
		}
	}
	// A figure just over a round limit must not be shown as the limit.
	r, _ := new(big.Rat).SetString("200.0004")
	if got := show(fracOf(r)); got != "200.0004 ppm" {
		t.Errorf("show = %q", got)
	}
}
