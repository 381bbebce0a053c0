package reckon

import (
	"flitchbook/planner/carcass"
	"flitchbook/planner/unit"
)

var yieldKind = define("yield", "what an animal gives: live, hot, cold, side, cuts, belly, and what an order leaves",
	yieldExample, runYield)

// profileIn is what one farm's animals give.
type profileIn struct {
	Farm       string      `json:"farm,omitempty" doc:"who raised it"`
	Breed      string      `json:"breed,omitempty"`
	Species    string      `json:"species,omitempty" doc:"pig, lamb, deer or beef"`
	HCW        unit.Weight `json:"hcw,omitempty" doc:"usual hot carcass weight"`
	Shrink     unit.Ratio  `json:"shrink" doc:"lost in chilling, of hot carcass weight"`
	Belly      unit.Ratio  `json:"belly" doc:"rib-off belly before squaring, of the cold side"`
	Squaring   unit.Ratio  `json:"squaring" doc:"trimmed to straight edges, of the rib-off belly"`
	Skin       unit.Ratio  `json:"skin" doc:"the skin, of the rib-off belly"`
	Rest       []cutIn     `json:"rest,omitempty" maxItems:"40" doc:"the other cuts"`
	Source     string      `json:"source,omitempty" doc:"where these figures come from"`
	SampleSize int         `json:"sample_size,omitempty" minimum:"0" doc:"animals behind the figures"`
}

type cutIn struct {
	Cut   string     `json:"cut" minLength:"1"`
	Share unit.Ratio `json:"share" doc:"of the cold side"`
}

func (p profileIn) profile() carcass.Profile {
	c := carcass.Profile{Farm: p.Farm, Breed: p.Breed, Species: p.Species, HCW: p.HCW, Shrink: p.Shrink,
		Belly: p.Belly, Squaring: p.Squaring, Skin: p.Skin, Source: p.Source, SampleSize: p.SampleSize}
	for _, r := range p.Rest {
		c.Rest = append(c.Rest, carcass.CutShare{Cut: r.Cut, Share: r.Share})
	}
	return c
}

func profileFrom(c carcass.Profile) profileIn {
	p := profileIn{Farm: c.Farm, Breed: c.Breed, Species: c.Species, HCW: c.HCW, Shrink: c.Shrink,
		Belly: c.Belly, Squaring: c.Squaring, Skin: c.Skin, Source: c.Source, SampleSize: c.SampleSize}
	for _, r := range c.Rest {
		p.Rest = append(p.Rest, cutIn{r.Cut, r.Share})
	}
	return p
}

type yieldIn struct {
	Profile        *profileIn           `json:"profile,omitempty" doc:"the farm's own figures; or name a published list of cuts"`
	Published      string               `json:"published,omitempty" doc:"a published list of cuts by its name, such as pork-tas-average; another name lists them"`
	Live           unit.Weight          `json:"live,omitempty" doc:"on the hoof; needs dressing, and replaces the profile's hcw"`
	Dressing       unit.Ratio           `json:"dressing,omitempty" doc:"hot carcass weight as a share of live weight"`
	Animals        int                  `json:"animals,omitempty" minimum:"0" maximum:"1000" doc:"animals ordered, for what they leave; 1 when not given"`
	Sides          []unit.Weight        `json:"sides,omitempty" maxItems:"2000" doc:"real cold side weights; they replace the forecast in what is left"`
	Packaged       unit.Weight          `json:"packaged,omitempty" doc:"weight of packaged meat, for cutting yield"`
	Parts          []unit.Weight        `json:"parts,omitempty" maxItems:"200" doc:"weighed parts of one side, to be balanced against it"`
	Side           unit.Weight          `json:"side,omitempty" doc:"the side the parts came from; the forecast side when not given"`
	Weighed        []weighedIn          `json:"weighed,omitempty" maxItems:"2000" doc:"the farm's delivered animals; they move the profile, which counts as prior"`
	PriorWeight    int                  `json:"prior_weight,omitempty" minimum:"0" maximum:"1000" doc:"animals the prior counts for; 5 when not given"`
	FieldDressed   unit.Weight          `json:"field_dressed,omitempty" doc:"of a deer; needs field_dressed_as"`
	FieldDressedAs carcass.FieldDressed `json:"field_dressed_as,omitempty" doc:"what field-dressed means: \"guts out; hide, head and feet on\" or \"guts and feet out; hide and head on\""`
	Rows           []rowIn              `json:"rows,omitempty" maxItems:"1000" doc:"a table of yields to check before it is taken over"`
	Keep           *keepIn              `json:"keep,omitempty" doc:"a vacuum-packed raw piece: discard day, thawing, freezer room"`
	Alternatives   bool                 `json:"alternatives,omitempty" doc:"the parts of a row are different ways of cutting the same meat"`
}

type cutOut struct {
	Cut    string      `json:"cut"`
	Weight unit.Weight `json:"weight"`
}

type leftOut struct {
	Sides    int         `json:"sides"`
	Cuts     []cutOut    `json:"cuts"`
	Unlisted unit.Weight `json:"unlisted"`
	Total    unit.Weight `json:"total"`
}

func leftFrom(l carcass.Left) leftOut {
	out := leftOut{Sides: l.Sides, Cuts: []cutOut{}, Unlisted: lb(l.Unlisted), Total: lb(l.Total)}
	for _, c := range l.Cuts {
		out.Cuts = append(out.Cuts, cutOut{c.Name, lb(c.Weight)})
	}
	return out
}

type balanceOut struct {
	Whole      unit.Weight `json:"whole"`
	Parts      unit.Weight `json:"parts"`
	Difference unit.Weight `json:"difference"`
	OK         bool        `json:"ok"`
	Note       string      `json:"note,omitempty"`
}

type yieldOut struct {
	Live         unit.Weight   `json:"live,omitempty"`
	HCW          unit.Weight   `json:"hcw"`
	Cold         unit.Weight   `json:"cold"`
	Side         unit.Weight   `json:"side"`
	Belly        unit.Weight   `json:"belly"`
	NetSkinless  unit.Weight   `json:"net_skinless"`
	NetSkinOn    unit.Weight   `json:"net_skin_on"`
	Cuts         []cutOut      `json:"cuts"`
	Unlisted     unit.Weight   `json:"unlisted"`
	Leaves       leftOut       `json:"leaves"`
	Dressing     unit.Ratio    `json:"dressing,omitempty"`
	CuttingYield unit.Ratio    `json:"cutting_yield,omitempty"`
	OfLive       unit.Ratio    `json:"packaged_of_live,omitempty"`
	Balance      *balanceOut   `json:"balance,omitempty"`
	Published    *publishedOut `json:"published,omitempty"`
	Learned      []learnedOut  `json:"learned,omitempty"`
	RowFaults    []rowFaultOut `json:"row_faults,omitempty"`
	Keep         *keepOut      `json:"keep,omitempty"`
}

func yieldExample() yieldIn {
	p := profileFrom(carcass.Example())
	return yieldIn{Profile: &p, Animals: 2}
}

func runYield(in yieldIn) (yieldOut, error) {
	var faults unit.Faults
	var p carcass.Profile
	var published *publishedOut
	switch {
	case (in.Profile != nil) == (in.Published != ""):
		faults.Add("profile", "give either a profile or the name of a published one")
	case in.Profile != nil:
		p = in.Profile.profile()
		faults.Under("profile", p.Check())
	default:
		p, published = publishedProfile(in.Published, &faults)
	}
	var animals []carcass.Weighed
	for i, w := range in.Weighed {
		animals = append(animals, w.weighed(at("weighed", i), &faults))
	}
	if in.FieldDressed != 0 {
		faults.Under("field_dressed", sensible(in.FieldDressed))
		live, err := carcass.LiveOf(in.FieldDressed, in.FieldDressedAs)
		switch {
		case err != nil:
			faults.Add("field_dressed_as", err.Error())
		case in.Live != 0:
			faults.Add("live", "give either live or field-dressed weight")
		default:
			in.Live = live
		}
	}
	if in.Live < 0 {
		faults.Add("live", "a weight cannot be below zero")
	}
	if in.Live > 0 && (in.Dressing <= 0 || in.Dressing > unit.One) {
		faults.Add("dressing", "live weight needs a dressing share over 0 % and up to 100 %")
	}
	if in.Live > 6000*unit.Pound {
		faults.Add("live", "an animal of more than 6000.00 lb is not believed")
	}
	if in.Live == 0 && p.HCW == 0 && len(in.Sides) == 0 && len(faults) == 0 {
		faults.Add("profile.hcw", "give a hanging weight, a live weight, or real sides")
	}
	for i, s := range in.Sides {
		faults.Under(at("sides", i), sensible(s))
	}
	for i, s := range in.Parts {
		faults.Under(at("parts", i), sensible(s))
	}
	faults.Under("side", sensible(in.Side))
	faults.Under("packaged", sensible(in.Packaged))
	var keep *keepOut
	if in.Keep != nil {
		keep = in.Keep.answer(&faults)
	}
	rows := checkRows(in.Rows, in.Alternatives, &faults)
	if err := faults.Err(); err != nil {
		return yieldOut{}, err
	}

	var learned []learnedOut
	if len(animals) > 0 {
		own := p.Learn(animals, nil, in.PriorWeight)
		p, learned = own.Profile, learnedFrom(own)
	}
	chain := p.Forecast()
	if in.Live > 0 {
		chain = carcass.FromLive(in.Live, in.Dressing, p.Shrink)
	}
	p.HCW = chain.Hot
	b := p.Break(chain.Side)
	rule := carcass.DefaultSlabs()
	out := yieldOut{
		Live: lb(chain.Live), HCW: lb(chain.Hot), Cold: lb(chain.Cold), Side: lb(chain.Side), Belly: lb(b.Belly),
		NetSkinless: lb(p.CutBelly(rule, b.Belly, carcass.Skinless).Net),
		NetSkinOn:   lb(p.CutBelly(rule, b.Belly, carcass.SkinOn).Net),
		Cuts:        []cutOut{}, Unlisted: lb(b.Unlisted), Published: published, Learned: learned, RowFaults: rows, Keep: keep,
	}
	for _, c := range b.Cuts {
		out.Cuts = append(out.Cuts, cutOut{c.Name, lb(c.Weight)})
	}
	sides := in.Sides
	if len(sides) == 0 {
		sides = p.ForecastSides(2 * max(in.Animals, 1))
	}
	out.Leaves = leftFrom(p.Leaves(sides))
	if chain.Live > 0 {
		out.Dressing = pct(carcass.Dressing(chain.Hot, chain.Live))
	}
	if in.Packaged > 0 && chain.Hot > 0 {
		out.CuttingYield = pct(carcass.CuttingYield(in.Packaged, chain.Hot))
		if chain.Live > 0 {
			out.OfLive = pct(in.Packaged.RatioOf(chain.Live))
		}
	}
	if len(in.Parts) > 0 {
		whole := in.Side
		if whole == 0 {
			whole = chain.Side
		}
		c := carcass.CheckBalance(whole, in.Parts...)
		out.Balance = &balanceOut{lb(c.Whole), lb(c.Parts), lb(c.Diff), c.OK, c.Note}
	}
	return out, nil
}
