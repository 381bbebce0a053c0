package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
)

type farmYieldInput struct {
	Code  string `path:"code" maxLength:"40"`
	Prior string `query:"prior" maxLength:"60" doc:"A published list to weigh its own animals against; what the shop started with when left out."`
}

type adoptYieldInput struct {
	Code string `path:"code" maxLength:"40"`
	Body struct {
		Species string `json:"species" maxLength:"20"`
		Prior   string `json:"prior,omitempty" maxLength:"60"`
	}
}

type farmYieldOutput struct {
	Body struct {
		Farm   string         `json:"farm"`
		Yields []ownYieldsOut `json:"yields"`
	}
}

type ownYieldsOut struct {
	Species string       `json:"species"`
	Breed   string       `json:"breed"`
	Source  string       `json:"reckoned_with" doc:"Source of the figures in use."`
	Prior   string       `json:"prior" doc:"Source of the prior."`
	Priors  []string     `json:"published" doc:"Published lists that may be named as prior."`
	Adopted bool         `json:"adopted" doc:"The shop reckons with these figures."`
	Hung    int          `json:"hung"`
	Note    string       `json:"note,omitempty"`
	Figures []learnedOut `json:"figures"`
}

type learnedOut struct {
	Figure  string `json:"figure"`
	Prior   string `json:"prior"`
	Own     string `json:"own,omitempty" doc:"Mean of its animals' own figures."`
	Now     string `json:"together"`
	Samples int    `json:"samples"`
}

func farmYieldFrom(v *store.FarmYield) *farmYieldOutput {
	out := &farmYieldOutput{}
	out.Body.Farm, out.Body.Yields = v.Farm.Name, []ownYieldsOut{}
	for _, y := range v.Yields {
		o := ownYieldsOut{Species: y.Row.Species, Breed: y.Row.Breed, Source: y.Row.Source, Prior: y.Own.Prior.Source, Priors: []string{}, Adopted: y.Adopted, Hung: y.Hung, Note: y.Note, Figures: []learnedOut{}}
		for _, p := range y.Priors {
			o.Priors = append(o.Priors, p.Key)
		}
		for _, l := range y.Own.Learned {
			f := learnedOut{Figure: l.Name, Prior: l.Show(l.Prior), Now: l.Show(l.Now), Samples: l.Samples}
			if l.Samples > 0 {
				f.Own = l.Show(l.Own)
			}
			o.Figures = append(o.Figures, f)
		}
		out.Body.Yields = append(out.Body.Yields, o)
	}
	return out
}

func (a *Server) farmYieldOperations() {
	owner := []shop.Role{shop.Owner}
	view := func(ctx context.Context, code, prior string) (*farmYieldOutput, error) {
		v, err := a.Store.FarmPage(ctx, code, prior)
		if err != nil {
			return nil, err
		}
		return farmYieldFrom(v), nil
	}
	operation(a, http.MethodGet, "/farms/{code}/yields", "farm-yields", "A farm's own figures beside the prior, with their sample sizes", owner,
		func(ctx context.Context, _ shop.Actor, in *farmYieldInput) (*farmYieldOutput, error) {
			return view(ctx, in.Code, in.Prior)
		})
	operation(a, http.MethodPost, "/farms/{code}/yields", "adopt-yield", "Reckon with a farm's own figures from today", owner,
		func(ctx context.Context, by shop.Actor, in *adoptYieldInput) (*farmYieldOutput, error) {
			if err := a.Store.AdoptYield(ctx, by, in.Code, in.Body.Species, in.Body.Prior); err != nil {
				return nil, err
			}
			return view(ctx, in.Code, in.Body.Prior)
		})
}
