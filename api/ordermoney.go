package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

type changeInput struct {
	Number int `path:"number" minimum:"1"`
	Body   struct {
		Animals  int      `json:"animals" minimum:"1" maximum:"100"`
		Delivery unit.Day `json:"delivery,omitempty" doc:"Another delivery day; left out, it stays."`
		Reason   string   `json:"reason" maxLength:"300" doc:"The farm reads it if it was asked."`
	}
}

type settleInput struct {
	Number int `path:"number" minimum:"1"`
	Body   struct {
		Farm  unit.Money `json:"farm" doc:"What is paid to the farm, haul included."`
		Plant unit.Money `json:"plant"`
		Note  string     `json:"note,omitempty" maxLength:"300" doc:"Needed when they differ from the slip."`
	}
}

// orderMoneyOperations change, hold and settle an order.
func (a *Server) orderMoneyOperations() {
	owner := []shop.Role{shop.Owner}
	act := func(ctx context.Context, number int, do func(shop.OrderID) error) (*orderOutput, error) {
		id, err := a.Store.OrderNumbered(ctx, number)
		if err == nil {
			err = do(id)
		}
		if err != nil {
			return nil, err
		}
		v, err := a.Store.OrderPage(ctx, number)
		if err != nil {
			return nil, err
		}
		return orderFrom(v), nil
	}
	operation(a, http.MethodPost, "/orders/{number}/change", "change-order", "Change an order before its order-by; the farm gets the new slip", owner,
		func(ctx context.Context, by shop.Actor, in *changeInput) (*orderOutput, error) {
			return act(ctx, in.Number, func(id shop.OrderID) error {
				_, err := a.Store.ReviseOrder(ctx, by, id, shop.OrderChange{Animals: in.Body.Animals, DeliverOn: in.Body.Delivery, Reason: in.Body.Reason})
				return err
			})
		})
	operation(a, http.MethodPost, "/orders/{number}/slot", "hold-slot", "Try again to hold the places of a promised order", owner,
		func(ctx context.Context, by shop.Actor, in *orderPath) (*orderOutput, error) {
			return act(ctx, in.Number, func(id shop.OrderID) error { return a.Store.HoldSlot(ctx, by, id) })
		})
	operation(a, http.MethodPost, "/orders/{number}/settle", "settle-order", "Close a delivered order whose bills are paid", owner,
		func(ctx context.Context, by shop.Actor, in *settleInput) (*orderOutput, error) {
			return act(ctx, in.Number, func(id shop.OrderID) error {
				return a.Store.SettleOrder(ctx, by, id, store.Bills{Farm: in.Body.Farm, Plant: in.Body.Plant, Note: in.Body.Note})
			})
		})
}
