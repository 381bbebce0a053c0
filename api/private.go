package api

import (
	"context"
	"fmt"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

type privateOfferOut struct {
	ID    int64      `json:"id"`
	Kind  string     `json:"kind"`
	Name  string     `json:"name"`
	Words string     `json:"words"`
	Flat  unit.Money `json:"flat" doc:"For the whole party; $0.00: by the head."`
	Head  unit.Money `json:"head" doc:"A head."`
	Least int        `json:"least"`
	Most  int        `json:"most"`
}

type privateOutput struct {
	Body struct {
		Offers   []privateOfferOut `json:"offers"`
		Evenings []unit.Day        `json:"evenings" doc:"With nothing in the room."`
		Deposit  unit.Money        `json:"deposit"`
		RestDays int               `json:"rest_days" doc:"Days before the event by which the rest is due."`
	}
}

type askPrivateInput struct {
	Key  string `header:"Idempotency-Key" required:"true" minLength:"1" maxLength:"100" doc:"A word of your own for this question: sent twice it counts once."`
	Body struct {
		Offer int64    `json:"offer"`
		Day   unit.Day `json:"day"`
		Heads int      `json:"heads" minimum:"1" maximum:"200"`
		Name  string   `json:"name" maxLength:"80"`
		Email string   `json:"email" maxLength:"254"`
		Phone string   `json:"phone,omitempty" maxLength:"40"`
		Words string   `json:"words,omitempty" maxLength:"500"`
	}
}

type privateRequestOut struct {
	ID      int64      `json:"id"`
	Offer   string     `json:"offer"`
	Day     unit.Day   `json:"day"`
	Heads   int        `json:"heads"`
	Name    string     `json:"name"`
	Email   string     `json:"email"`
	Phone   string     `json:"phone,omitempty"`
	Words   string     `json:"words,omitempty"`
	State   string     `json:"state"`
	Total   unit.Money `json:"total"`
	Deposit unit.Money `json:"deposit"`
	RestBy  unit.Day   `json:"rest_by"`
	Clash   string     `json:"clash,omitempty" doc:"What stands in the room that evening."`
	Booking int        `json:"booking,omitempty"`
}

type privateRequestsOutput struct {
	Body struct {
		Requests []privateRequestOut `json:"requests"`
	}
}

type askedPrivateOutput struct {
	Body struct {
		ID    int64  `json:"id"`
		State string `json:"state"`
	}
}

type openPrivateInput struct {
	ID   int64 `path:"id"`
	Body struct {
		StartsAt unit.Instant `json:"starts_at"`
	}
}

type closePrivateInput struct {
	ID   int64 `path:"id"`
	Body struct {
		Why string `json:"why" maxLength:"200"`
	}
}

// privateOperations: what a party of its own may have, who asked, and opening it.
func (a *Server) privateOperations() {
	operation(a, http.MethodGet, "/private", "private-offers", "What a party of its own may have, and the free evenings", nil,
		func(ctx context.Context, _ shop.Actor, _ *struct{}) (*privateOutput, error) {
			p, err := a.Store.PrivatePage(ctx)
			if err != nil {
				return nil, err
			}
			out := &privateOutput{}
			out.Body.Offers, out.Body.Evenings, out.Body.Deposit, out.Body.RestDays = []privateOfferOut{}, append([]unit.Day{}, p.Evenings...), p.Deposit, p.RestDays
			for _, o := range p.Offers {
				out.Body.Offers = append(out.Body.Offers, privateOfferOut{int64(o.ID), o.Kind, o.Name, o.Words, o.FlatCents, o.Head, o.Least, o.Most})
			}
			return out, nil
		})
	operation(a, http.MethodPost, "/private/requests", "ask-private", "Ask for an evening of one's own", nil,
		func(ctx context.Context, _ shop.Actor, in *askPrivateInput) (*askedPrivateOutput, error) {
			b := in.Body
			r, err := a.Store.AskPrivate(ctx, shop.NewQuote{Offer: shop.OfferID(b.Offer), Day: b.Day, Heads: b.Heads, Name: b.Name, Email: b.Email, Phone: b.Phone, Words: b.Words},
				store.Once{Key: in.Key, Fingerprint: fmt.Sprint(b)})
			if err != nil {
				return nil, err
			}
			out := &askedPrivateOutput{}
			out.Body.ID, out.Body.State = int64(r.ID), r.State
			return out, nil
		})
	staff := []shop.Role{shop.Staff}
	operation(a, http.MethodGet, "/private/requests", "private-requests", "Who asked for an evening of their own", staff,
		func(ctx context.Context, _ shop.Actor, _ *struct{}) (*privateRequestsOutput, error) {
			list, err := a.Store.PrivateRequests(ctx)
			if err != nil {
				return nil, err
			}
			out := &privateRequestsOutput{}
			out.Body.Requests = []privateRequestOut{}
			for _, r := range list {
				out.Body.Requests = append(out.Body.Requests, privateRequestOut{int64(r.ID), r.Offer.Name, r.Day, r.Heads, r.Name, r.Email, r.Phone, r.Words, r.State,
					r.Quote.Total, r.Quote.Deposit, r.Quote.RestBy, r.Clash, r.Booking})
			}
			return out, nil
		})
	operation(a, http.MethodPost, "/private/requests/{id}/open", "open-private", "Open the evening somebody asked for and hold it for them", []shop.Role{shop.Owner},
		func(ctx context.Context, by shop.Actor, in *openPrivateInput) (*bookingOutput, error) {
			b, err := a.Store.OpenPrivate(ctx, by, shop.RequestID(in.ID), in.Body.StartsAt)
			if err != nil {
				return nil, err
			}
			return a.bookingFrom(b, false), nil
		})
	operation(a, http.MethodPost, "/private/requests/{id}/close", "close-private", "Close a request without an event", staff,
		func(ctx context.Context, by shop.Actor, in *closePrivateInput) (*nothing, error) {
			return &nothing{}, a.Store.ClosePrivate(ctx, by, shop.RequestID(in.ID), in.Body.Why)
		})
}
