package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

type outletOut struct {
	Species string      `json:"species" maxLength:"20"`
	Cut     string      `json:"cut" maxLength:"60"`
	Way     string      `json:"way" enum:"counter,sausage,freezer"`
	Week    unit.Weight `json:"week" doc:"What goes that way in a week; 0 lb closes it."`
	Price   unit.Money  `json:"price" doc:"A pound."`
}

type outletsInput struct {
	Body struct {
		Outlets []outletOut `json:"outlets" maxItems:"500"`
	}
}

type outletsOutput struct {
	Body struct {
		Outlets []outletOut `json:"outlets"`
		Changed int         `json:"changed,omitempty"`
	}
}

func (a *Server) outletOperations() {
	owner := []shop.Role{shop.Owner}
	view := func(ctx context.Context, changed int) (*outletsOutput, error) {
		sheet, err := a.Store.Outlets(ctx)
		if err != nil {
			return nil, err
		}
		out := &outletsOutput{}
		out.Body.Outlets, out.Body.Changed = []outletOut{}, changed
		for _, c := range sheet.Cuts {
			for _, o := range c.Ways {
				if o.Week > 0 {
					out.Body.Outlets = append(out.Body.Outlets, outletOut{o.Species, o.Cut, o.Way, o.Week, o.Price})
				}
			}
		}
		return out, nil
	}
	operation(a, http.MethodGet, "/outlets", "outlets", "What a week sells of each cut, by way", owner,
		func(ctx context.Context, _ shop.Actor, _ *struct{}) (*outletsOutput, error) { return view(ctx, 0) })
	operation(a, http.MethodPost, "/outlets", "set-outlets", "Write down what a week sells; outlets not named stay as they are", owner,
		func(ctx context.Context, by shop.Actor, in *outletsInput) (*outletsOutput, error) {
			var all []shop.Outlet
			for _, o := range in.Body.Outlets {
				all = append(all, shop.Outlet{Species: o.Species, Cut: o.Cut, Way: o.Way, Week: o.Week, Price: o.Price})
			}
			n, err := a.Store.SetOutlets(ctx, by, all)
			if err != nil {
				return nil, err
			}
			return view(ctx, n)
		})
}
