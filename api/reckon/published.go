package reckon

import (
	"strings"

	"flitchbook/planner/carcass"
	"flitchbook/planner/unit"
)

// publishedOut says where a published profile comes from and what else its source says.
type publishedOut struct {
	Key        string      `json:"key"`
	Animal     string      `json:"animal"`
	Source     string      `json:"source"`
	Date       string      `json:"date,omitempty"`
	Tag        string      `json:"tag" doc:"how the figures are known"`
	SampleSize int         `json:"sample_size,omitempty"`
	SharesOf   string      `json:"shares_of"`
	Skin       string      `json:"skin"`
	Head       string      `json:"head"`
	Note       string      `json:"note,omitempty"`
	Figures    []figureOut `json:"figures"`
}

type figureOut struct {
	Name string     `json:"name"`
	Of   string     `json:"of"`
	Low  unit.Ratio `json:"low"`
	High unit.Ratio `json:"high"`
}

func publishedFrom(p carcass.Published) *publishedOut {
	out := &publishedOut{Key: p.Key, Animal: p.Animal, Source: p.Source, Date: p.Date, Tag: p.Tag, SampleSize: p.SampleSize,
		SharesOf: string(p.Of), Skin: string(p.Skin), Head: string(p.Head), Note: p.Note, Figures: []figureOut{}}
	for _, f := range p.Figures {
		out.Figures = append(out.Figures, figureOut{f.Name, string(f.Of), f.Low, f.High})
	}
	return out
}

// publishedProfile finds a published profile by its key, for a field of that name.
func publishedProfile(key string, faults *unit.Faults) (carcass.Profile, *publishedOut) {
	p, ok := carcass.PublishedFor(key)
	if !ok {
		var keys []string
		for _, p := range carcass.AllPublished() {
			if _, err := p.Profile(); err == nil {
				keys = append(keys, p.Key)
			}
		}
		faults.Add("published", "there is no published profile of that name; there are: "+strings.Join(keys, ", "))
		return carcass.Profile{}, nil
	}
	c, err := p.Profile()
	if err != nil {
		faults.Add("published", err.Error())
	}
	return c, publishedFrom(p)
}

// weighedIn is one delivered carcass.
type weighedIn struct {
	Hot     unit.Weight   `json:"hot,omitempty"`
	Sides   []unit.Weight `json:"sides,omitempty" maxItems:"2" doc:"cold"`
	Bellies []unit.Weight `json:"bellies,omitempty" maxItems:"2" doc:"rib-off, side by side with sides; 0 lb for one not weighed"`
}

func (w weighedIn) weighed(at string, faults *unit.Faults) carcass.Weighed {
	faults.Under(at+".hot", sensible(w.Hot))
	out := carcass.Weighed{Hot: w.Hot, Sides: w.Sides}
	var cold unit.Weight
	for _, s := range w.Sides {
		faults.Under(at+".sides", sensible(s))
		cold += s
	}
	if w.Hot > 0 && cold > w.Hot+w.Hot.Share(carcass.Tolerance) {
		faults.Add(at+".sides", "the cold sides weigh more than the carcass did hot")
	}
	if len(w.Bellies) > len(w.Sides) {
		faults.Add(at+".bellies", "a belly needs its side")
		return out
	}
	for i, b := range w.Bellies {
		faults.Under(at+".bellies", sensible(b))
		if b > w.Sides[i]/2 {
			faults.Add(at+".bellies", "a belly weighs at most half its side")
		}
		if b > 0 {
			out.Belled = append(out.Belled, carcass.BelliedSide{Side: w.Sides[i], Belly: b})
		}
	}
	return out
}

type learnedOut struct {
	Figure  string `json:"figure"`
	Prior   string `json:"prior"`
	Own     string `json:"own,omitempty" doc:"mean of the animals' own figures"`
	Now     string `json:"now" doc:"prior and own weighed together"`
	Samples int    `json:"samples"`
}

func learnedFrom(o carcass.Own) []learnedOut {
	var out []learnedOut
	for _, l := range o.Learned {
		line := learnedOut{Figure: l.Name, Prior: l.Show(l.Prior), Now: l.Show(l.Now), Samples: l.Samples}
		if l.Samples > 0 {
			line.Own = l.Show(l.Own)
		}
		out = append(out, line)
	}
	return out
}

// rowIn is a row of a yield table to be taken over.
type rowIn struct {
	Whole unit.Weight `json:"whole"`
	Parts []rowPartIn `json:"parts" maxItems:"60"`
}

type rowPartIn struct {
	Part   string      `json:"part" minLength:"1"`
	Weight unit.Weight `json:"weight"`
}

type rowFaultOut struct {
	Row  int    `json:"row"`
	Part string `json:"part,omitempty"`
	Stop bool   `json:"stop" doc:"the table may not be taken over as it is"`
	Text string `json:"text"`
}

func checkRows(rows []rowIn, alternatives bool, faults *unit.Faults) []rowFaultOut {
	var in []carcass.YieldRow
	for i, r := range rows {
		faults.Under(at("rows", i)+".whole", sensible(r.Whole))
		row := carcass.YieldRow{Whole: r.Whole}
		for _, p := range r.Parts {
			faults.Under(at("rows", i)+".parts", sensible(p.Weight))
			row.Parts = append(row.Parts, carcass.Cut{Name: p.Part, Weight: p.Weight})
		}
		in = append(in, row)
	}
	if len(*faults) > 0 || len(in) == 0 {
		return nil
	}
	out := []rowFaultOut{}
	for _, f := range carcass.CheckRows(in, alternatives) {
		out = append(out, rowFaultOut{f.Row, f.Part, f.Stop, f.Text})
	}
	return out
}
