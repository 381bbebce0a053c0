package reckon

import (
	"math"

	"flitchbook/planner/carcass"
	"flitchbook/planner/unit"
)

var cuttingTestKind = define("cutting-test", "a butcher's yield test: what a usable pound really costs, raw and cooked, and at another price",
	cuttingTestExample, runCuttingTest)

type testPartIn struct {
	Name   string      `json:"name" minLength:"1" maxLength:"80"`
	Weight unit.Weight `json:"weight"`
	Price  unit.Money  `json:"price,omitempty" doc:"a pound, as if bought in; nothing when not given"`
}

type cuttingTestIn struct {
	Name     string       `json:"name,omitempty" maxLength:"80"`
	Bought   unit.Weight  `json:"bought" doc:"weight as bought"`
	Price    unit.Money   `json:"price" doc:"a pound, as bought"`
	Parts    []testPartIn `json:"parts,omitempty" maxItems:"60" doc:"by-products; what was not weighed is the loss in cutting"`
	Usable   unit.Weight  `json:"usable" doc:"the primary part"`
	Cooked   unit.Weight  `json:"cooked,omitempty" doc:"the primary part out of the oven"`
	Carving  unit.Weight  `json:"carving,omitempty" doc:"bone and trim taken off after cooking"`
	Portion  unit.Weight  `json:"portion,omitempty"`
	NewPrice unit.Money   `json:"new_price,omitempty" doc:"a pound as bought, to carry the test over to"`
	Portions int          `json:"portions,omitempty" minimum:"0" maximum:"100000" doc:"portions to buy for; needs portion"`
}

type newPriceOut struct {
	Price    unit.Money  `json:"price"`
	PerPound unit.Money  `json:"per_pound"`
	Portion  *unit.Money `json:"portion,omitempty"`
}

type cuttingTestOut struct {
	Cost          unit.Money   `json:"cost"`
	Secondary     unit.Money   `json:"secondary"`
	Net           unit.Money   `json:"net"`
	Loss          unit.Weight  `json:"loss_in_cutting"`
	Saleable      unit.Weight  `json:"saleable"`
	Yield         unit.Ratio   `json:"yield"`
	CookingLoss   *unit.Weight `json:"cooking_loss,omitempty"`
	CookingShare  *unit.Ratio  `json:"cooking_share,omitempty"`
	PerPound      unit.Money   `json:"per_pound"`
	PerOunce      string       `json:"per_ounce"`
	Factor        float64      `json:"factor"`
	PortionCost   *unit.Money  `json:"portion_cost,omitempty"`
	PortionFactor *float64     `json:"portion_factor,omitempty"`
	AtNewPrice    *newPriceOut `json:"at_new_price,omitempty"`
	ToBuy         *unit.Weight `json:"to_buy,omitempty"`
	Notes         []string     `json:"notes"`
}

func cuttingTestExample() cuttingTestIn {
	lbs := func(f float64) unit.Weight { return unit.WeightOfPounds(f) }
	return cuttingTestIn{Name: "half pig", Bought: lbs(92), Price: 320, Usable: lbs(48), Portion: 8 * unit.Ounce, NewPrice: 340, Portions: 24, Parts: []testPartIn{
		{"fat", lbs(9), 50}, {"skin", lbs(4), 0}, {"bones", lbs(8.5), 75}, {"sausage trim", lbs(14), 275}, {"jowl, feet, hock", lbs(7.5), 150}}}
}

func runCuttingTest(in cuttingTestIn) (cuttingTestOut, error) {
	t := carcass.CuttingTest{Name: in.Name, Bought: in.Bought, Price: in.Price, Usable: in.Usable, Cooked: in.Cooked, Carving: in.Carving, Portion: in.Portion}
	for _, p := range in.Parts {
		t.Parts = append(t.Parts, carcass.TestPart{Name: p.Name, Weight: p.Weight, Price: p.Price})
	}
	faults := t.Check()
	if in.Portions > 0 && in.Portion <= 0 {
		faults.Add("portion", "how many portions to buy for needs the size of one")
	}
	if in.NewPrice < 0 || in.NewPrice > 0 && in.Price <= 0 {
		faults.Add("new_price", "a price is carried over from another price above zero")
	}
	if err := faults.Err(); err != nil {
		return cuttingTestOut{}, err
	}
	r, err := t.Reckon()
	if err != nil {
		return cuttingTestOut{}, err
	}
	out := cuttingTestOut{Cost: r.Cost, Secondary: r.Secondary, Net: r.Net, Loss: lb(r.Loss), Saleable: lb(r.Saleable), Yield: pct(r.Yield),
		PerPound: r.PerPound, PerOunce: r.PerOunce.String(), Factor: factor(r.Factor), Notes: append([]string{}, r.Notes...)}
	if in.Cooked > 0 {
		loss, share := lb(r.CookingLoss), pct(r.CookingShare)
		out.CookingLoss, out.CookingShare = &loss, &share
	}
	if in.Portion > 0 {
		f := factor(r.PortionFact)
		out.PortionCost, out.PortionFactor = &r.PortionCost, &f
	}
	if in.NewPrice > 0 {
		pound, portion := r.At(in.NewPrice)
		out.AtNewPrice = &newPriceOut{Price: in.NewPrice, PerPound: pound}
		if in.Portion > 0 {
			out.AtNewPrice.Portion = &portion
		}
	}
	if in.Portions > 0 {
		w := lb(r.ToBuy(in.Portions, in.Portion))
		out.ToBuy = &w
	}
	return out, nil
}

// factor rounds a cost factor to four places, as they are written in a test book.
func factor(r unit.Ratio) float64 { return math.Round(r.Float()*10_000) / 10_000 }
