package reckon

import (
	"flitchbook/planner/cure"
	"flitchbook/planner/unit"
)

var cureKind = define("cure", "what to weigh out for each slab, the nitrite it puts in, and whether a weigh-out may be sealed",
	cureExample, runCure)

type cureIn struct {
	Recipe recipeIn   `json:"recipe"`
	Lots   []lotIn    `json:"lots" minItems:"1" maxItems:"5" doc:"the curing salt, by lot as its label states it"`
	Scale  scaleIn    `json:"scale"`
	Slabs  []cureSlab `json:"slabs" minItems:"1" maxItems:"200"`
}

type recipeIn struct {
	Salt       unit.Ratio `json:"salt" doc:"plain salt, of the meat under the skin"`
	Sugar      unit.Ratio `json:"sugar"`
	CuringSalt unit.Ratio `json:"curing_salt"`
	Limit      string     `json:"limit" doc:"the limit it is made under, by its name" example:"us-bacon-dry"`
}

type lotIn struct {
	ID      string     `json:"id" minLength:"1"`
	Nitrite unit.Ratio `json:"nitrite" doc:"sodium nitrite, of the lot's weight"`
	Nitrate unit.Ratio `json:"nitrate,omitempty" doc:"sodium nitrate; none may go into bacon"`
	Share   unit.Ratio `json:"share,omitempty" doc:"of each slab's curing salt; the whole when there is one lot"`
}

type scaleIn struct {
	Name    string      `json:"name,omitempty"`
	Step    unit.Weight `json:"step" doc:"what it can tell apart: 0.1 g or finer"`
	Day     unit.Day    `json:"day,omitempty" doc:"the day of weighing; needed for weigh-outs"`
	Checked unit.Day    `json:"checked,omitempty" doc:"the day it was last checked with a 5 g weight"`
	Reading unit.Weight `json:"reading,omitempty" doc:"what it showed for the 5 g weight"`
}

type cureSlab struct {
	Tag       string      `json:"tag" minLength:"1"`
	Green     unit.Weight `json:"green" doc:"weight before cure"`
	SkinOn    bool        `json:"skin_on,omitempty"`
	SkinShare unit.Ratio  `json:"skin_share,omitempty" doc:"the skin's share of the weight, where it was measured"`
	Jar       string      `json:"jar,omitempty"`
	Spice     unit.Ratio  `json:"spice,omitempty" doc:"of green weight"`
	Thickness float64     `json:"thickness_in,omitempty" minimum:"0" maximum:"19" doc:"inches at the thickest point, for the salt model"`
	Weighed   string      `json:"weighed,omitempty" doc:"curing salt as typed from the scale, one decimal; two lots as 3.0 + 1.7"`
}

type ticketOut struct {
	Tag        string      `json:"tag"`
	Basis      unit.Weight `json:"basis"`
	Salt       unit.Weight `json:"salt"`
	Sugar      unit.Weight `json:"sugar"`
	CuringSalt unit.Weight `json:"curing_salt"`
	Parts      []partOut   `json:"parts"`
	Jar        string      `json:"jar,omitempty"`
	Spice      unit.Weight `json:"spice"`
	Verdict    verdictOut  `json:"verdict"`
	WeighOut   *verdictOut `json:"weigh_out,omitempty"`
	Model      *modelOut   `json:"model,omitempty"`
}

type partOut struct {
	Lot    string      `json:"lot"`
	Weight unit.Weight `json:"weight"`
}

type verdictOut struct {
	Answer  cure.Answer `json:"answer"`
	Nitrite string      `json:"nitrite,omitempty"`
	Reasons []string    `json:"reasons"`
}

func verdictFrom(v cure.Verdict) verdictOut {
	out := verdictOut{Answer: v.Answer, Reasons: v.Reasons}
	if v.PPM > 0 {
		out.Nitrite = v.PPM.Show()
	}
	return out
}

// modelOut proposes days by salt alone; the shop's own rule decides.
type modelOut struct {
	Label   string   `json:"label"`
	Days    int      `json:"days"`
	Reasons []string `json:"reasons"`
}

type cureOut struct {
	Limit   limitOut    `json:"limit"`
	Tickets []ticketOut `json:"tickets"`
	Totals  kitOut      `json:"totals"`
}

type limitOut struct {
	Place   string       `json:"place"`
	Product string       `json:"product"`
	Max     cure.PPM     `json:"max"`
	Floor   cure.PPM     `json:"floor"`
	Source  string       `json:"source"`
	ReadHow cure.ReadHow `json:"read_how"`
}

type kitOut struct {
	Slabs      int         `json:"slabs"`
	Green      unit.Weight `json:"green"`
	Salt       unit.Weight `json:"salt"`
	Sugar      unit.Weight `json:"sugar"`
	CuringSalt unit.Weight `json:"curing_salt"`
	Spices     []spiceOut  `json:"spices"`
}

type spiceOut struct {
	Jar  string      `json:"jar"`
	Need unit.Weight `json:"need"`
	Fill unit.Weight `json:"fill"`
}

func cureExample() cureIn {
	r := cure.HouseRecipe()
	day := unit.DayOf(2026, 11, 7)
	return cureIn{
		Recipe: recipeIn{Salt: r.Salt, Sugar: r.Sugar, CuringSalt: r.CuringSalt, Limit: r.Limit.ID},
		Lots:   []lotIn{{ID: "C-41", Nitrite: 62_500}},
		Scale:  scaleIn{Name: "T1", Step: cure.CureStep, Day: day, Checked: day, Reading: cure.CheckWeight},
		Slabs: []cureSlab{
			{Tag: "B1-07", Green: 460 * unit.Pound / 100, SkinOn: true, Jar: "GP", Spice: 12_000, Weighed: "4.7"},
			{Tag: "B5-06", Green: 431 * unit.Pound / 100, Jar: "PB", Spice: 10_000, Thickness: 1.5, Weighed: "5.0"},
		},
	}
}

func runCure(in cureIn) (cureOut, error) {
	var faults unit.Faults
	recipe := cure.Recipe{Salt: in.Recipe.Salt, Sugar: in.Recipe.Sugar, CuringSalt: in.Recipe.CuringSalt}
	names := ""
	for _, l := range cure.Limits() {
		if l.ID == in.Recipe.Limit {
			recipe.Limit = l
		}
		names += " " + l.ID
	}
	if recipe.Limit.ID == "" {
		faults.Add("recipe.limit", "there is no such limit; there are:"+names)
		return cureOut{}, faults
	}
	var lots []cure.LotShare
	for _, l := range in.Lots {
		share := l.Share
		if len(in.Lots) == 1 && share == 0 {
			share = unit.One
		}
		lots = append(lots, cure.LotShare{Lot: cure.Lot{ID: l.ID, Nitrite: l.Nitrite, Nitrate: l.Nitrate}, Share: share})
	}
	scale := cure.Scale{Name: in.Scale.Name, Step: in.Scale.Step, Checked: in.Scale.Checked, Reading: in.Scale.Reading}
	l := recipe.Limit
	out := cureOut{Limit: limitOut{l.Place, l.Product, l.Max, l.Floor, l.Source, l.ReadHow}}
	var tickets []cure.Ticket
	seen := map[string]bool{}
	for i, s := range in.Slabs {
		if seen[s.Tag] {
			faults.Add(at("slabs", i)+".tag", "slab "+s.Tag+" is listed twice")
		}
		seen[s.Tag] = true
		if f := sensible(s.Green); f != nil {
			faults.Under(at("slabs", i)+".green", f)
			continue
		}
		slab := cure.Slab{Tag: s.Tag, Green: s.Green, SkinOn: s.SkinOn, Skin: s.SkinShare}
		t, err := cure.NewTicket(slab, recipe, cure.Jar{Code: s.Jar, Rate: s.Spice}, lots, scale.Step)
		if err == nil {
			err = t.Check()
		}
		if err != nil {
			faults.Add(at("slabs", i), err.Error())
			continue
		}
		tickets = append(tickets, t)
		o := ticketOut{Tag: s.Tag, Basis: t.Basis.Round(unit.Gram / 10), Salt: t.Salt, Sugar: t.Sugar,
			CuringSalt: t.CuringSalt, Jar: s.Jar, Spice: t.Spice, Verdict: verdictFrom(t.Verdict)}
		for _, p := range t.Parts {
			o.Parts = append(o.Parts, partOut{p.ID, p.Weight})
		}
		if s.Weighed != "" {
			v := verdictFrom(cure.CheckWeighOut(t, s.Weighed, scale, in.Scale.Day))
			o.WeighOut = &v
		}
		if s.Thickness > 0 {
			p, err := cure.DefaultPlan(s.Thickness*cure.MMPerInch, s.SkinOn)
			if err != nil {
				faults.Add(at("slabs", i)+".thickness_in", err.Error())
				continue
			}
			o.Model = &modelOut{cure.SaltModel, p.Days, p.Reasons}
		}
		out.Tickets = append(out.Tickets, o)
	}
	if err := faults.Err(); err != nil {
		return cureOut{}, err
	}
	sum := cure.Sum(tickets, cure.SpareShare, cure.SpareStep)
	out.Totals = kitOut{sum.Slabs, lb(sum.Green), sum.Salt, sum.Sugar, sum.CuringSalt, []spiceOut{}}
	for _, s := range sum.Spices {
		out.Totals.Spices = append(out.Totals.Spices, spiceOut{s.Jar, s.Need, s.Fill})
	}
	return out, nil
}
