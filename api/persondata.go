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

type draftReplyInput struct {
	Body struct {
		Sender string `json:"sender" maxLength:"254"`
		About  string `json:"about" enum:"ready,change,holiday,voucher,food,ages,private,fetch,own"`
	}
}

type draftReplyOutput struct {
	Body struct {
		Email    string   `json:"email"`
		Subject  string   `json:"subject"`
		Draft    string   `json:"draft"`
		Bookings []string `json:"bookings" doc:"References of the sender's bookings."`
	}
}

// personDataOperations: one person's data, erasing it, and answers drafted from records.
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
	operation(a, http.MethodPost, "/answers/draft", "draft-answer", "Draft an answer to a usual question from today's records", []shop.Role{shop.Staff},
		func(ctx context.Context, _ shop.Actor, in *draftReplyInput) (*draftReplyOutput, error) {
			r, err := a.Store.Reply(ctx, in.Body.Sender, in.Body.About)
			if err != nil {
				return nil, err
			}
			out := &draftReplyOutput{}
			out.Body.Email, out.Body.Subject, out.Body.Draft, out.Body.Bookings = r.Email, r.Subject, r.Draft, []string{}
			for _, b := range r.Bookings {
				out.Body.Bookings = append(out.Body.Bookings, b.View.Ref)
			}
			return out, nil
		})
}
