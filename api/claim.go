package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/inspection"
	"flitchbook/planner/unit"
)

type claimInput struct {
	Body struct {
		Piece   string `json:"piece" enum:"animal,side,hindquarter,forequarter,belly" doc:"A quarter is named by the key of its side."`
		ID      int64  `json:"id" minimum:"1"`
		Purpose string `json:"purpose" enum:"class,slabs,counter,dinner,freezer,free" doc:"free ends the claim."`
		Class   string `json:"class,omitempty" maxLength:"20" doc:"Code; with class and dinner."`
	}
}

type bellyInput struct {
	ID   shop.BellyID `path:"id" minimum:"1"`
	Body struct {
		Weight unit.Weight `json:"weight" doc:"On the scale, ribs off, before squaring."`
	}
}

type piecesOutput struct {
	Body struct {
		Pieces []pieceOut `json:"pieces"`
	}
}

type pieceOut struct {
	Piece    string      `json:"piece" doc:"As a claim names it."`
	ID       int64       `json:"id"`
	Name     string      `json:"name" example:"beef 1 (NR-07) L hindquarter"`
	Weight   unit.Weight `json:"weight"`
	Reckoned bool        `json:"reckoned" doc:"From the side, not weighed."`
	Purpose  string      `json:"purpose,omitempty" doc:"None: free."`
	Class    string      `json:"class,omitempty"`
}

type ageInput struct {
	ID   shop.AnimalID `path:"id" minimum:"1"`
	Body struct {
		Age string `json:"age" enum:"under 30 months,30 months or older,30 months or older without its backbone"`
	}
}

func (a *Server) claimOperations() {
	staff := []shop.Role{shop.Staff}
	pieces := func(ctx context.Context, number int) (*piecesOutput, error) {
		v, err := a.Store.OrderPage(ctx, number)
		if err != nil {
			return nil, err
		}
		out := &piecesOutput{}
		out.Body.Pieces = []pieceOut{}
		for _, p := range v.Pieces {
			out.Body.Pieces = append(out.Body.Pieces, pieceOut{p.Piece, p.ID, p.Name, shown(p.Weight), p.Reckoned, p.Purpose, p.Class})
		}
		return out, nil
	}
	operation(a, http.MethodGet, "/orders/{number}/pieces", "pieces", "The pieces of a delivery and what they are for", staff,
		func(ctx context.Context, _ shop.Actor, in *orderPath) (*piecesOutput, error) {
			return pieces(ctx, in.Number)
		})
	operation(a, http.MethodPost, "/orders/{number}/rest", "sell-rest", "Everything that is free over the counter", staff,
		func(ctx context.Context, by shop.Actor, in *orderPath) (*piecesOutput, error) {
			id, err := a.Store.OrderNumbered(ctx, in.Number)
			if err == nil {
				_, err = a.Store.SellRest(ctx, by, id)
			}
			if err != nil {
				return nil, err
			}
			return pieces(ctx, in.Number)
		})
	operation(a, http.MethodPost, "/animals/{id}/age", "set-age", "Write down how old one head of cattle was", staff,
		func(ctx context.Context, by shop.Actor, in *ageInput) (*nothing, error) {
			return &nothing{}, a.Store.SetAge(ctx, by, in.ID, inspection.Cattle(in.Body.Age))
		})
	operation(a, http.MethodPost, "/claims", "claim-meat", "Promise a piece of meat to one purpose, or end its promise", staff,
		func(ctx context.Context, by shop.Actor, in *claimInput) (*nothing, error) {
			b := in.Body
			if b.Purpose == "free" {
				return &nothing{}, a.Store.FreeClaim(ctx, by, b.Piece, b.ID)
			}
			return &nothing{}, a.Store.Claim(ctx, by, store.NewClaim{Piece: b.Piece, Subject: b.ID, Purpose: b.Purpose, Class: b.Class})
		})
	operation(a, http.MethodPost, "/bellies/{id}/weight", "weigh-belly", "Weigh a belly; its slabs are counted again", staff,
		func(ctx context.Context, by shop.Actor, in *bellyInput) (*nothing, error) {
			return &nothing{}, a.Store.WeighBelly(ctx, by, in.ID, in.Body.Weight)
		})
}
