package cure

import (
	"errors"
	"strings"
	"testing"

	"flitchbook/planner/unit"
)

const tenth = unit.Gram / 10

// today is the day of class B5 in the invented shop.
var today = unit.DayOf(2026, 11, 7)

func goodScale() Scale {
	return Scale{Name: "T1", Step: tenth, Checked: today, Reading: 5 * unit.Gram}
}

func ticket(t testing.TB, tag, pounds string, skinOn bool, jar Jar) Ticket {
	t.Helper()
	s := Slab{Tag: tag, SkinOn: skinOn}
	var err error
	if s.Green, err = unit.ParseWeight(pounds + " lb"); err != nil {
		t.Fatal(err)
	}
	k, err := NewTicket(s, HouseRecipe(), jar, WholeLot(lot(usual)), tenth)
	if err != nil {
		t.Fatal(err)
	}
	if err := k.Check(); err != nil {
		t.Fatal(err)
	}
	return k
}

// Tickets of the invented shop: house rule on weighing, worked in its scenarios
// "the second pig hangs light" and "two friends swap slabs".
func TestHouseTickets(t *testing.T) {
	for _, r := range []struct {
		pounds                 string
		skin                   bool
		basis, salt, sugar, cs string
		ppm                    string
	}{
		{"4.60", true, "1877.9 g", "41 g", "21 g", "4.7 g", "156.4 ppm"},
		{"4.64", true, "1894.2 g", "42 g", "21 g", "4.7 g", "155.1 ppm"},
		{"4.38", false, "1986.7 g", "44 g", "22 g", "5.0 g", "157.3 ppm"},
		{"4.40", false, "1995.8 g", "44 g", "22 g", "5.0 g", "156.6 ppm"},
		{"5.62", false, "2549.2 g", "56 g", "28 g", "6.4 g", "156.9 ppm"},
		{"4.31", false, "1955.0 g", "43 g", "22 g", "4.9 g", "156.7 ppm"},
	} {
		k := ticket(t, "B1-07", r.pounds, r.skin, Jar{Code: "PL"})
		got := []string{k.Basis.G(1), k.Salt.G(0), k.Sugar.G(0), k.CuringSalt.G(1), k.Verdict.PPM.Show()}
		want := []string{r.basis, r.salt, r.sugar, r.cs, r.ppm}
		if strings.Join(got, " / ") != strings.Join(want, " / ") || k.Verdict.Answer != OK {
			t.Errorf("%s lb, skin %v: %v %v, want %v", r.pounds, r.skin, got, k.Verdict, want)
		}
	}
}

// The kit list of class B1 of the invented shop, twelve slabs as the second scenario
// outcome has them: four of pig 1's weights and the skin left on pig 2.
func TestKitTotals(t *testing.T) {
	jars := map[string]unit.Ratio{"PB": 10_000, "JT": 8_000, "MC": 15_000, "GP": 12_000, "FO": 9_000, "PL": 0}
	picks := []string{"PB", "JT", "MC", "PB", "PB", "FO", "GP", "PL", "MC", "FO", "GP", "PL"}
	weights := []string{"4.38", "4.40", "4.60", "4.64"}
	var tickets []Ticket
	for i, code := range picks {
		tickets = append(tickets, ticket(t, "B1", weights[i/3], i >= 6, Jar{code, jars[code]}))
	}
	got := Sum(tickets, SpareShare, SpareStep)
	if got.Slabs != 12 || got.Salt.G(0) != "513 g" || got.Sugar.G(0) != "258 g" || got.CuringSalt.G(1) != "58.2 g" {
		t.Errorf("totals %+v", got)
	}
	want := map[string][2]string{"PB": {"60 g", "70 g"}, "JT": {"16 g", "20 g"}, "MC": {"61 g", "75 g"}, "FO": {"37 g", "45 g"}, "GP": {"50 g", "60 g"}}
	if len(got.Spices) != len(want) || got.Spices[0].Jar != "PB" {
		t.Fatalf("spices %+v", got.Spices)
	}
	for _, s := range got.Spices {
		if s.Need.G(0) != want[s.Jar][0] || s.Fill.G(0) != want[s.Jar][1] {
			t.Errorf("%s: need %s, fill %s, want %v", s.Jar, s.Need.G(0), s.Fill.G(0), want[s.Jar])
		}
	}
}

func TestTicketIsRefused(t *testing.T) {
	ok := Slab{Tag: "B4-03", Green: g(2270)}
	house := HouseRecipe()
	with := func(change func(*Recipe)) Recipe { r := house; change(&r); return r }
	one := WholeLot(lot(usual))
	for name, r := range map[string]struct {
		slab   Slab
		recipe Recipe
		lots   []LotShare
		step   unit.Weight
		want   string
	}{
		"over the limit":        {ok, with(func(r *Recipe) { r.CuringSalt = 3_300 }), one, tenth, "206.5 ppm is over the limit of 200 ppm"},
		"over by rounding":      {Slab{Green: g(2265)}, with(func(r *Recipe) { r.CuringSalt = 3_200 }), one, tenth, "7.2 g"},
		"under the floor":       {ok, with(func(r *Recipe) { r.CuringSalt = 1_800 }), one, tenth, "112.9 ppm is below the policy floor of 120 ppm"},
		"all-in-one lot":        {ok, house, WholeLot(lot(6_000)), tenth, "below the policy floor of 120 ppm"},
		"strong lot":            {ok, house, WholeLot(lot(100_000)), tenth, "over the limit of 200 ppm"},
		"nitrate":               {ok, house, WholeLot(Lot{"C-2", 62_500, 40_000}), tenth, "holds nitrate (100.4 ppm), and none may be used in bacon"},
		"no nitrite on label":   {ok, house, WholeLot(Lot{ID: "C-3"}), tenth, `lot "C-3" has no nitrite share`},
		"lots short":            {ok, house, []LotShare{{lot(usual), 400_000}}, tenth, "the lots give 40 % of the curing salt, not 100 %"},
		"no lots":               {ok, house, nil, tenth, "the lots give 0 %"},
		"negative lot share":    {ok, house, []LotShare{{lot(usual), -1}, {lot(usual), unit.One}}, tenth, "cannot give"},
		"coarse scale":          {ok, house, one, unit.Gram, "reads 0.1 g or finer, and this one reads 1 g"},
		"no scale":              {ok, house, one, 0, "reads 0.1 g or finer"},
		"no weight":             {Slab{}, house, one, tenth, "the slab has no weight (0 g)"},
		"skin without skin":     {Slab{Green: g(2270), Skin: 100_000}, house, one, tenth, "marked skinless"},
		"skin whole":            {Slab{Green: g(2270), SkinOn: true, Skin: unit.One}, house, one, tenth, "skin cannot be 100 %"},
		"too small to weigh":    {Slab{Green: g(10)}, house, one, tenth, "0.0 g of curing salt"},
		"tiny, rounding weighs": {Slab{Green: g(26)}, house, one, tenth, "240.4 ppm is over the limit of 200 ppm"},
		"immersion limit":       {ok, with(func(r *Recipe) { r.Limit = limit(t, "us-bacon-immersion") }), one, tenth, "a ticket is for dry cure"},
		"residual limit":        {ok, with(func(r *Recipe) { r.Limit = limit(t, "eu-dry-residual") }), one, tenth, "no ticket can prove that"},
		"no limit":              {ok, with(func(r *Recipe) { r.Limit = Limit{} }), one, tenth, "no maximum"},
		"negative salt":         {ok, with(func(r *Recipe) { r.Salt = -1 }), one, tenth, "salt cannot be -0.0001 %"},
	} {
		t.Run(name, func(t *testing.T) {
			k, err := NewTicket(r.slab, r.recipe, Jar{Code: "PB", Rate: 10_000}, r.lots, r.step)
			if name == "over by rounding" {
				// 0.32 % of 2265 g is 7.248 g, shown 7.2: inside. The next slab up rounds over.
				if err != nil {
					t.Fatal(err)
				}
				if k.CuringSalt.G(1) != r.want {
					t.Errorf("curing salt %s", k.CuringSalt.G(1))
				}
				r.slab.Green, r.want = g(2268), "201.2 ppm is over the limit of 200 ppm"
				_, err = NewTicket(r.slab, r.recipe, Jar{}, r.lots, r.step)
			}
			var no *Refusal
			if !errors.As(err, &no) {
				t.Fatalf("made a ticket: %+v", k)
			}
			if !strings.Contains(err.Error(), r.want) {
				t.Errorf("refused with %q, want %q in it", err, r.want)
			}
		})
	}
}

func TestTwoLotsOnOneSlab(t *testing.T) {
	weak := Lot{ID: "C-9", Nitrite: 58_824}
	k, err := NewTicket(Slab{Tag: "B4-03", Green: g(2270)}, HouseRecipe(), Jar{}, []LotShare{{lot(usual), 520_000}, {weak, 480_000}}, tenth)
	if err != nil {
		t.Fatal(err)
	}
	if err := k.Check(); err != nil {
		t.Fatal(err)
	}
	if len(k.Parts) != 2 || k.Parts[0].Weight.G(1) != "3.0 g" || k.Parts[1].Weight.G(1) != "2.7 g" || k.CuringSalt.G(1) != "5.7 g" {
		t.Fatalf("parts %+v of %s", k.Parts, k.CuringSalt.G(1))
	}
	if v := CheckWeighOut(k, "3.0 + 2.7", goodScale(), today); v.Answer != OK || v.PPM != k.Verdict.PPM {
		t.Errorf("%+v", v)
	}
	for entered, want := range map[string]string{
		"5.7":             "does not give 2 weights",
		"3.0 + 2.7 + 0.1": "does not give 2 weights",
		"3.0 +":           "is not a weight",
	} {
		if v := CheckWeighOut(k, entered, goodScale(), today); v.Answer != Block || !strings.Contains(v.Reason(), want) {
			t.Errorf("%q: %+v, want %q", entered, v, want)
		}
	}
}

// The skin was weighed and is more than a tenth: the meat is less, so the cure is.
func TestMeasuredSkinLowersTheCure(t *testing.T) {
	s := Slab{Tag: "B1-07", Green: g(4540), SkinOn: true, Skin: 133_250}
	k, err := NewTicket(s, HouseRecipe(), Jar{}, WholeLot(lot(usual)), tenth)
	if err != nil {
		t.Fatal(err)
	}
	if k.CuringSalt.G(1) != "9.8 g" || k.Basis.G(1) != "3935.0 g" {
		t.Errorf("%s on %s", k.CuringSalt.G(1), k.Basis.G(1))
	}
}

func TestScaleCheck(t *testing.T) {
	for reading, want := range map[float64]bool{4.89: false, 4.9: true, 5: true, 5.1: true, 5.11: false, 0: false} {
		if ScaleCheckPasses(g(reading)) != want {
			t.Errorf("a reading of %v g passes = %v", reading, !want)
		}
	}
}

// House rule on weigh-outs, with the figures of the invented shop's scenarios.
func TestWeighOut(t *testing.T) {
	small := ticket(t, "B1-07", "4.60", true, Jar{}) // 4.7 g
	b506 := ticket(t, "B5-06", "4.31", false, Jar{}) // 4.9 g
	whole := Scale{Name: "K2", Step: unit.Gram, Checked: today, Reading: 5 * unit.Gram}
	stale, off := goodScale(), goodScale()
	stale.Checked--
	off.Reading = g(5.2)
	for _, r := range []struct {
		name   string
		k      Ticket
		text   string
		scale  Scale
		answer Answer
		want   string
	}{
		{"on the ticket", small, "4.7", goodScale(), OK, "156.4 ppm"},
		{"10.6 % over", small, "5.2", goodScale(), Block, "5.2 g is 10.6 % over the ticket's 4.7 g, more than 10 % (it would be 173.1 ppm, allowed 120 ppm to 200 ppm)"},
		{"a comma", small, "4,7", goodScale(), Block, `"4,7" has a comma: write a point before the decimal, such as 4.7 or 5.0`},
		{"no decimal", b506, "5", goodScale(), Block, `"5" has no decimal`},
		{"whole-gram scale", b506, "5", whole, Block, "curing salt needs a scale that reads 0.1 g or finer, and this one reads 1 g"},
		{"whole-gram scale, one decimal typed", b506, "5.0", whole, Block, "reads 1 g"},
		{"5.0 on 4.9", b506, "5.0", goodScale(), OK, "5.0 g for a ticket of 4.9 g, 159.8 ppm"},
		{"with its unit", b506, " 5.0 g ", goodScale(), OK, "159.8 ppm"},
		{"nothing", b506, "0.0", goodScale(), Block, "0.0 g is 100.0 % under the ticket's 4.9 g"},
		{"blank", b506, "", goodScale(), Block, "is not a weight in grams"},
		{"two decimals", b506, "4.90", goodScale(), Block, "has 2 decimals"},
		{"negative", b506, "-4.9", goodScale(), Block, "is not a weight in grams"},
		{"ounces", b506, "4.9 oz", goodScale(), Block, "is not a weight in grams"},
		{"too much", b506, "1000.1", goodScale(), Block, "more curing salt than any slab takes"},
		{"not checked today", b506, "4.9", stale, Block, "was not checked with the 5 g weight on Sat Nov 7"},
		{"checked and wrong", b506, "4.9", off, Block, "read 5.20 g for the 5 g weight"},
		{"digits of another script", b506, "٤.٩", goodScale(), Block, "is not a weight in grams"},
	} {
		v := CheckWeighOut(r.k, r.text, r.scale, today)
		if v.Answer != r.answer || !strings.Contains(v.Reason(), r.want) {
			t.Errorf("%s: %s %q, want %s with %q", r.name, v.Answer, v.Reason(), r.answer, r.want)
		}
	}
	if v := CheckWeighOut(Ticket{}, "4.7", goodScale(), today); v.Answer != Block {
		t.Errorf("no ticket at all: %+v", v)
	}
}

// Exactly 10 % is allowed; the limit bites inside the 10 % where the recipe is near it.
func TestWeighOutBounds(t *testing.T) {
	r := HouseRecipe()
	r.CuringSalt = 3_000
	s := Slab{Tag: "B4-03", Green: g(2000)} // 6.0 g, 187.5 ppm; 6.6 g is 206.25
	k, err := NewTicket(s, r, Jar{}, WholeLot(lot(usual)), tenth)
	if err != nil {
		t.Fatal(err)
	}
	for text, want := range map[string]Answer{"5.4": OK, "5.3": Block, "6.3": OK, "6.4": Warn, "6.5": Block, "6.6": Block, "6.7": Block} {
		v := CheckWeighOut(k, text, goodScale(), today)
		if v.Answer != want {
			t.Errorf("%s g on a ticket of 6.0: %+v, want %s", text, v, want)
		}
	}
	// 6.4 g is 200.0 exactly: inside, with a warning, since the scale cannot tell it from more.
	if v := CheckWeighOut(k, "6.4", goodScale(), today); !strings.Contains(v.Reason(), "by the step of the scale") {
		t.Errorf("%q", v.Reason())
	}
}

// House rules on seat weight, swapped cups and finished weight, with scenario figures.
func TestIdentityChecks(t *testing.T) {
	for _, r := range []struct {
		cut, seat string
		want      Answer
	}{{"5.62", "5.55", OK}, {"5.62", "5.50", Block}, {"5.62", "5.52", OK}, {"5.62", "5.72", OK}, {"5.62", "5.73", Block}, {"5.62", "0", Block}} {
		if v := CheckSeatWeight(lb(r.cut), lb(r.seat), SeatApart); v.Answer != r.want {
			t.Errorf("cut %s, seat %s: %+v", r.cut, r.seat, v)
		}
	}
	if v := CheckSeatWeight(lb("5.62"), lb("5.50"), SeatApart); v.Reason() != "stop: 5.50 lb at the seat and 5.62 lb at cutting are 0.12 lb apart, more than 0.10 lb: wrong slab or wrong scale" {
		t.Errorf("%q", v.Reason())
	}
	if v := CheckSeatWeight(lb("5.62"), lb("5.52")-1, SeatApart); v.Answer != Block {
		t.Error("a nanogram more than 0.10 lb passed")
	}

	a := ticket(t, "B5-01", "5.62", false, Jar{"PB", 10_000})
	b := ticket(t, "B5-06", "4.31", false, Jar{"GP", 12_000})
	v := CheckCup(b, a)
	if want := "5.62 lb would get 120.1 ppm and 4.31 lb 204.6 ppm"; v.Answer != Block || !strings.Contains(v.Reason(), want) {
		t.Errorf("swapped cups: %+v, want %q", v, want)
	}
	if v := CheckCup(a, a); v.Answer != OK {
		t.Errorf("own cup: %+v", v)
	}
	if v := CheckCup(Ticket{}, Ticket{}); v.Answer != Block {
		t.Errorf("cups without tags: %+v", v)
	}
	// After the swap of people, the spice is weighed for the other slab, skin and all.
	if x, y := ticket(t, "B5-01", "5.62", false, Jar{"GP", 12_000}), ticket(t, "B5-06", "4.31", false, Jar{"PB", 10_000}); x.Spice.G(0) != "31 g" || y.Spice.G(0) != "20 g" {
		t.Errorf("spices %s and %s, want 31 g and 20 g", x.Spice.G(0), y.Spice.G(0))
	}

	for _, r := range []struct {
		green, done string
		want        Answer
	}{{"4.38", "3.72", OK}, {"5.00", "3.90", OK}, {"5.00", "3.89", Block}, {"5.00", "4.75", OK}, {"5.00", "4.76", Block}, {"5.00", "0", Block}} {
		if v := CheckFinished(lb(r.green), lb(r.done), FinishedLow, FinishedHigh); v.Answer != r.want || len(v.Reasons) == 0 {
			t.Errorf("%s of %s: %+v", r.done, r.green, v)
		}
	}
	if v := CheckFinished(lb("5.00"), lb("4.75")+1, FinishedLow, FinishedHigh); !strings.Contains(v.Reason(), "95.000000 %") {
		t.Errorf("%q", v.Reason())
	}
}

// Check must catch a ticket changed after it was made.
func TestTicketCheckCatches(t *testing.T) {
	for name, spoil := range map[string]func(*Ticket){
		"heavier dose":   func(k *Ticket) { k.CuringSalt += 2 * unit.Gram; k.Parts[0].Weight += 2 * unit.Gram },
		"parts astray":   func(k *Ticket) { k.Parts[0].Weight += tenth },
		"stronger lot":   func(k *Ticket) { k.Parts[0].Nitrite = 90_000 },
		"weaker lot":     func(k *Ticket) { k.Parts[0].Nitrite = 40_000 },
		"nitrate":        func(k *Ticket) { k.Parts[0].Nitrate = 1 },
		"lighter slab":   func(k *Ticket) { k.Slab.Green = g(1300) },
		"no slab":        func(k *Ticket) { k.Slab.Green = 0 },
		"skin on":        func(k *Ticket) { k.Slab.SkinOn = true; k.Slab.Skin = 400_000 },
		"salt":           func(k *Ticket) { k.Salt += unit.Gram },
		"sugar":          func(k *Ticket) { k.Sugar -= unit.Gram },
		"spice":          func(k *Ticket) { k.Spice += unit.Gram },
		"fraction":       func(k *Ticket) { k.Salt++ },
		"one step":       func(k *Ticket) { k.CuringSalt += tenth; k.Parts[0].Weight += tenth },
		"no verdict":     func(k *Ticket) { k.Verdict = Verdict{} },
		"blocked":        func(k *Ticket) { k.Verdict.Answer = Block },
		"fraction of cs": func(k *Ticket) { k.Parts[0].Weight++; k.CuringSalt++ },
	} {
		k := ticket(t, "B4-03", "4.38", false, Jar{"PB", 10_000})
		spoil(&k)
		if k.Check() == nil {
			t.Errorf("%s: Check found nothing", name)
		}
	}
}
