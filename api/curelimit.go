package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/cure"
	"flitchbook/planner/unit"
)

// CureLimitOut is a legal limit on nitrite, with where it is from and who approved it.
type CureLimitOut struct {
	Code     string        `json:"code" example:"us-bacon-dry"`
	Place    string        `json:"place"`
	Product  string        `json:"product"`
	Method   cure.Method   `json:"method"`
	Basis    cure.Basis    `json:"basis" doc:"Ingoing is weighed in; residual is measured in the finished product, so no ticket can prove it."`
	Counted  cure.Compound `json:"counted" doc:"The form the figures are in."`
	Most     cure.PPM      `json:"most" example:"200 ppm"`
	Least    cure.PPM      `json:"least" doc:"A policy floor; 0 ppm: none."`
	Aim      cure.PPM      `json:"aim,omitempty" doc:"Where the rule names one figure."`
	Nitrate  cure.PPM      `json:"nitrate" doc:"Most sodium nitrate; 0 ppm: none may be used."`
	Skin     unit.Ratio    `json:"skin_share" doc:"That counts as skin of a skin-on slab."`
	Also     string        `json:"also,omitempty" doc:"What the rule asks besides, which no reckoning here sees."`
	Source   string        `json:"source"`
	ReadHow  cure.ReadHow  `json:"read_how"`
	Words    string        `json:"words"`
	Chosen   bool          `json:"chosen"`
	ChosenBy string        `json:"chosen_by,omitempty"`
	Approval string        `json:"approval,omitempty" doc:"By whom, when, with whom, and what was looked at."`
	Caution  string        `json:"caution,omitempty" doc:"Stands on screen and paper until the owner approves the limit."`
	Cannot   string        `json:"cannot,omitempty" doc:"Why kits cannot be made under it."`
	Differs  string        `json:"listed,omitempty" doc:"What the program's own list says now, where the shop took over other figures."`
}

type limitsOutput struct {
	Body struct {
		Limits []CureLimitOut `json:"limits"`
	}
}

type chooseLimitInput struct {
	Code string `path:"code" maxLength:"60"`
	Body struct {
		Why string `json:"why" maxLength:"400"`
	}
}

type approveLimitInput struct {
	Code string `path:"code" maxLength:"60"`
	Body struct {
		With string `json:"with" maxLength:"200" doc:"Whom it was agreed with."`
		Why  string `json:"why" maxLength:"400" doc:"What was looked at."`
	}
}

func cureLimitFrom(l store.LimitLine) CureLimitOut {
	out := CureLimitOut{Code: l.Code, Place: l.Place, Product: l.Product, Method: l.Method, Basis: l.Basis, Counted: l.Counted, Most: l.Most, Least: l.Least,
		Aim: l.Aim, Nitrate: l.Nitrate, Skin: l.SkinShare, Also: l.Also, Source: l.Source, ReadHow: l.ReadHow, Words: l.Words(),
		Chosen: l.Chosen, ChosenBy: l.ChosenBy, Approval: l.Approval(), Caution: l.Caution(), Cannot: l.Cannot()}
	if l.Listed != nil {
		out.Differs = l.Listed.Words()
	}
	return out
}

// limitOperations are the limits on nitrite the shop works under.
func (a *Server) limitOperations() {
	owner := []shop.Role{shop.Owner}
	view := func(ctx context.Context) (*limitsOutput, error) {
		lines, err := a.Store.CureLimits(ctx)
		if err != nil {
			return nil, err
		}
		out := &limitsOutput{}
		out.Body.Limits = []CureLimitOut{}
		for _, l := range lines {
			out.Body.Limits = append(out.Body.Limits, cureLimitFrom(l))
		}
		return out, nil
	}
	operation(a, http.MethodGet, "/limits", "limits", "Limits on nitrite, the chosen one first", owner,
		func(ctx context.Context, _ shop.Actor, _ *struct{}) (*limitsOutput, error) { return view(ctx) })
	operation(a, http.MethodPost, "/limits/{code}/choice", "choose-limit", "Make a limit the one kits are made under from now on; tickets that exist stay", owner,
		func(ctx context.Context, by shop.Actor, in *chooseLimitInput) (*limitsOutput, error) {
			if err := a.Store.ChooseLimit(ctx, by, in.Code, in.Body.Why); err != nil {
				return nil, err
			}
			return view(ctx)
		})
	operation(a, http.MethodPost, "/limits/{code}/approval", "approve-limit", "Record that the owner checked a limit and agreed it with somebody", owner,
		func(ctx context.Context, by shop.Actor, in *approveLimitInput) (*limitsOutput, error) {
			if err := a.Store.ApproveLimit(ctx, by, in.Code, store.Approval{With: in.Body.With, Why: in.Body.Why}); err != nil {
				return nil, err
			}
			return view(ctx)
		})
}
