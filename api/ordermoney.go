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

type ordersInput struct {
	From string `query:"from" format:"date" doc:"Kills and deliveries from this day on; two weeks back when left out."`
}

type ordersOutput struct {
	Body struct {
		Orders []orderRowOut `json:"orders" doc:"The nearest kill first."`
	}
}

type orderRowOut struct {
	Number   int          `json:"number"`
	State    string       `json:"state"`
	Farm     string       `json:"farm"`
	Species  string       `json:"species"`
	Animals  int          `json:"animals"`
	Promised int          `json:"promised"`
	Kill     unit.Day     `json:"kill"`
	Delivery unit.Day     `json:"delivery"`
	OrderBy  unit.Instant `json:"order_by"`
	Classes  string       `json:"classes"`
}

// orderMoneyOperations list, change, hold and settle orders.
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
	operation(a, http.MethodGet, "/orders", "orders", "Orders by kill", []shop.Role{shop.Staff},
		func(ctx context.Context, _ shop.Actor, in *ordersInput) (*ordersOutput, error) {
			from, _, err := span(in.From, "", a.Store.Today()-14, 400)
			if err != nil {
				return nil, err
			}
			rows, err := a.Store.Orders(ctx, from)
			if err != nil {
				return nil, err
			}
			out := &ordersOutput{}
			out.Body.Orders = []orderRowOut{}
			for _, r := range rows {
				out.Body.Orders = append(out.Body.Orders, orderRowOut{r.Number, string(r.State), r.Farm, r.Species, r.Animals, r.Promised, r.Kill, r.DeliverOn, r.OrderBy, r.Codes})
			}
			return out, nil
		})
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
