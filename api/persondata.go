package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
)

type personDataOutput struct{ Body *store.PersonData }

type personInput struct {
	ID int64 `path:"id" doc:"A guest's key, as on the page of a booking."`
}

type erasePersonInput struct {
	ID   int64 `path:"id"`
	Body struct {
		Why string `json:"why" maxLength:"200" doc:"How they asked."`
	}
}

type payerInput struct {
	Number int `path:"number" minimum:"1" doc:"Number of a booking they pay for."`
}

type erasePayerInput struct {
	Number int `path:"number" minimum:"1"`
	Body   struct {
		Why string `json:"why" maxLength:"200" doc:"How they asked."`
	}
}

type erasableOutput struct {
	Body struct {
		InTheWay []string `json:"in_the_way" doc:"What must be settled first; none: they can be erased."`
	}
}

// payer is whoever pays a booking.
func (a *Server) payer(ctx context.Context, number int) (store.PersonKey, error) {
	b, err := a.Store.BookingByNumber(ctx, number)
	if err != nil {
		return store.PersonKey{}, err
	}
	return store.PersonKey{Booking: b.ID}, nil
}

func (a *Server) erasable(ctx context.Context, k store.PersonKey, err error) (*erasableOutput, error) {
	if err != nil {
		return nil, err
	}
	bars, err := a.Store.EraseBars(ctx, k)
	if err != nil {
		return nil, err
	}
	out := &erasableOutput{}
	out.Body.InTheWay = append([]string{}, bars...)
	return out, nil
}

// linkHolder is whoever a private link belongs to: a guest, or the payer of a booking.
type linkHolder func(ctx context.Context, secret string) (store.PersonKey, error)

func (a *Server) payerByLink(ctx context.Context, secret string) (store.PersonKey, error) {
	b, err := a.Store.MyBooking(ctx, secret)
	if err != nil {
		return store.PersonKey{}, err
	}
	return store.PersonKey{Booking: b.ID}, nil
}

func (a *Server) guestByLink(ctx context.Context, secret string) (store.PersonKey, error) {
	g, err := a.Store.GuestPage(ctx, secret)
	if err != nil {
		return store.PersonKey{}, err
	}
	return store.PersonKey{Guest: g.ID}, nil
}

// myDataOperations are what the holder of a private link reads of themselves, and asks.
func (a *Server) myDataOperations(under, id, whose string, key linkHolder) {
	operation(a, http.MethodGet, under+"/data", id+"-data", "What the records hold of "+whose+", without answers about food", nil,
		func(ctx context.Context, _ shop.Actor, in *myBookingInput) (*personDataOutput, error) {
			k, err := key(ctx, in.Secret)
			if err != nil {
				return nil, err
			}
			d, err := a.Store.PersonData(ctx, k, true)
			return &personDataOutput{d}, err
		})
	operation(a, http.MethodPost, under+"/erase", id+"-ask-erase", "Ask to have the data of "+whose+" erased; the owner looks at it and answers", nil,
		func(ctx context.Context, _ shop.Actor, in *myBookingInput) (*nothing, error) {
			k, err := key(ctx, in.Secret)
			if err != nil {
				return nil, err
			}
			return &nothing{}, a.Store.AskErase(ctx, k)
		})
}

// personDataOperations are one person's data, in the owner's hands and by their own link,
// and erasing it.
func (a *Server) personDataOperations() {
	owner := []shop.Role{shop.Owner}
	operation(a, http.MethodGet, "/people/{id}/data", "person-data", "All the records hold of one person", owner,
		func(ctx context.Context, _ shop.Actor, in *personInput) (*personDataOutput, error) {
			d, err := a.Store.PersonData(ctx, store.PersonKey{Guest: shop.GuestID(in.ID)}, false)
			return &personDataOutput{d}, err
		})
	operation(a, http.MethodPost, "/people/{id}/erase", "erase-person", "Erase one person at their wish", owner,
		func(ctx context.Context, by shop.Actor, in *erasePersonInput) (*nothing, error) {
			return &nothing{}, a.Store.ErasePerson(ctx, by, store.PersonKey{Guest: shop.GuestID(in.ID)}, in.Body.Why)
		})
	operation(a, http.MethodGet, "/payers/{number}/data", "payer-data", "All the records hold of whoever pays a booking", owner,
		func(ctx context.Context, _ shop.Actor, in *payerInput) (*personDataOutput, error) {
			k, err := a.payer(ctx, in.Number)
			if err != nil {
				return nil, err
			}
			d, err := a.Store.PersonData(ctx, k, false)
			return &personDataOutput{d}, err
		})
	operation(a, http.MethodPost, "/payers/{number}/erase", "erase-payer", "Erase whoever pays a booking, at their wish", owner,
		func(ctx context.Context, by shop.Actor, in *erasePayerInput) (*nothing, error) {
			k, err := a.payer(ctx, in.Number)
			if err != nil {
				return nil, err
			}
			return &nothing{}, a.Store.ErasePerson(ctx, by, k, in.Body.Why)
		})
	operation(a, http.MethodGet, "/people/{id}/erase", "may-erase-person", "What stands in the way of erasing one person", owner,
		func(ctx context.Context, _ shop.Actor, in *personInput) (*erasableOutput, error) {
			return a.erasable(ctx, store.PersonKey{Guest: shop.GuestID(in.ID)}, nil)
		})
	operation(a, http.MethodGet, "/payers/{number}/erase", "may-erase-payer", "What stands in the way of erasing whoever pays a booking", owner,
		func(ctx context.Context, _ shop.Actor, in *payerInput) (*erasableOutput, error) {
			k, err := a.payer(ctx, in.Number)
			return a.erasable(ctx, k, err)
		})
	a.myDataOperations("/my-booking/{secret}", "my-booking", "whoever pays a booking", a.payerByLink)
	a.myDataOperations("/guests/{secret}", "guest", "a guest", a.guestByLink)
}
