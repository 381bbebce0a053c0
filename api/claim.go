package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
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

func (a *Server) claimOperations() {
	staff := []shop.Role{shop.Staff}
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
