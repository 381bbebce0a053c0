package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

type pricesOutput struct {
	Body struct {
		Prices []priceOut `json:"prices"`
	}
}

type priceOut struct {
	ID    int64         `json:"id"`
	Kind  string        `json:"kind" example:"bacon"`
	Seat  shop.SeatKind `json:"seat" example:"slab"`
	Price unit.Money    `json:"price" example:"$105.00"`
	From  unit.Instant  `json:"from,omitempty" doc:"Left out: from the beginning."`
	Ahead bool          `json:"to_come" doc:"Not asked of anybody yet; it may be taken back."`
}

type setPriceInput struct {
	Body struct {
		Kind  string        `json:"kind" maxLength:"40" example:"bacon"`
		Seat  shop.SeatKind `json:"seat" maxLength:"10" example:"slab"`
		Price unit.Money    `json:"price" example:"$105.00"`
		From  unit.Instant  `json:"from,omitempty" doc:"At once when left out; never past."`
	}
}

type priceInput struct {
	ID int64 `path:"id"`
}

func (a *Server) prices(ctx context.Context) (*pricesOutput, error) {
	lines, _, err := a.Store.Prices(ctx)
	if err != nil {
		return nil, err
	}
	out := &pricesOutput{}
	out.Body.Prices = []priceOut{}
	for _, l := range lines {
		out.Body.Prices = append(out.Body.Prices, priceOut{l.ID, l.Kind, l.Seat, l.Cents, l.From, l.Ahead})
	}
	return out, nil
}

func (a *Server) priceOperations() {
	roles := []shop.Role{shop.Owner}
	operation(a, http.MethodGet, "/prices", "prices", "What seats cost now and from moments to come", roles,
		func(ctx context.Context, _ shop.Actor, _ *struct{}) (*pricesOutput, error) { return a.prices(ctx) })
	operation(a, http.MethodPost, "/prices", "set-price", "Say what a seat costs whoever books from a moment on", roles,
		func(ctx context.Context, by shop.Actor, in *setPriceInput) (*pricesOutput, error) {
			b := in.Body
			if err := a.Store.SetPrice(ctx, by, shop.NewPrice{Kind: b.Kind, Seat: b.Seat, Cents: b.Price, From: b.From}); err != nil {
				return nil, err
			}
			return a.prices(ctx)
		})
	operation(a, http.MethodPost, "/prices/{id}/back", "take-back-price", "Take back a price whose moment has not come", roles,
		func(ctx context.Context, by shop.Actor, in *priceInput) (*pricesOutput, error) {
			if err := a.Store.TakeBackPrice(ctx, by, in.ID); err != nil {
				return nil, err
			}
			return a.prices(ctx)
		})
}
