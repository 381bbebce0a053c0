package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

type ledgerInput struct {
	From unit.Day `query:"from" doc:"First day of entries; two weeks back when left out."`
	To   unit.Day `query:"to" doc:"Last day; today when left out."`
}

type ledgerOutput struct {
	Body struct {
		Groups  []ledgerGroupOut `json:"groups" doc:"Balances of now: what is owed or earned above zero."`
		Entries []postingOut     `json:"entries" doc:"Of the days asked for, the oldest first."`
	}
}

type ledgerGroupOut struct {
	Name     string             `json:"name"`
	Sum      unit.Money         `json:"sum"`
	Accounts []ledgerBalanceOut `json:"accounts"`
}

type ledgerBalanceOut struct {
	Account shop.LedgerAccount `json:"account"`
	Amount  unit.Money         `json:"amount"`
}

type postingOut struct {
	Entry   int64            `json:"entry"`
	At      unit.Instant     `json:"at"`
	Day     unit.Day         `json:"day"`
	Text    string           `json:"text"`
	By      string           `json:"by,omitempty"`
	Booking int              `json:"booking,omitempty"`
	Lines   []postingLineOut `json:"lines" doc:"They sum to nothing: money in hand above zero, what is owed and earned below."`
}

type postingLineOut struct {
	Account shop.LedgerAccount `json:"account"`
	Whose   string             `json:"whose,omitempty"`
	Amount  unit.Money         `json:"amount"`
}

type postingsOutput struct {
	Body struct {
		Entries []postingOut `json:"entries"`
	}
}

func postingsFrom(all []store.Posting) []postingOut {
	out := make([]postingOut, 0, len(all))
	for _, p := range all {
		o := postingOut{Entry: int64(p.ID), At: p.At, Day: p.Day, Text: p.Text, By: p.Actor, Booking: p.Number}
		for _, l := range p.Lines {
			o.Lines = append(o.Lines, postingLineOut{l.Account, l.Whose, l.Cents})
		}
		out = append(out, o)
	}
	return out
}

type bookingLedgerInput struct {
	Number int `path:"number" minimum:"1"`
}

type refundsOutput struct {
	Body struct {
		Refunds []refundOut `json:"refunds" doc:"Those that have not ended well."`
	}
}

type refundOut struct {
	ID      int64            `json:"id"`
	For     string           `json:"for"`
	Booking int              `json:"booking,omitempty"`
	Amount  unit.Money       `json:"amount"`
	State   shop.RefundState `json:"state"`
	Tried   int              `json:"tried"`
	Error   string           `json:"error,omitempty"`
}

type settleRefundInput struct {
	ID   int64 `path:"id"`
	Body struct {
		How  string `json:"how" enum:"again,cash,card,transfer" doc:"Try again, or how it was given back instead."`
		Note string `json:"note,omitempty" maxLength:"200"`
	}
}

func (a *Server) refunds(ctx context.Context) (*refundsOutput, error) {
	rs, err := a.Store.Refunds(ctx)
	if err != nil {
		return nil, err
	}
	out := &refundsOutput{}
	out.Body.Refunds = []refundOut{}
	for _, r := range rs {
		out.Body.Refunds = append(out.Body.Refunds, refundOut{int64(r.ID), r.For, r.Number, r.Cents, r.State, r.Attempts, r.LastError})
	}
	return out, nil
}

func (a *Server) ledgerOperations() {
	owner := []shop.Role{shop.Owner}
	operation(a, http.MethodGet, "/ledger", "ledger", "The shop's books: what stands on each account, and the entries of some days", owner,
		func(ctx context.Context, _ shop.Actor, in *ledgerInput) (*ledgerOutput, error) {
			to := in.To
			if to == 0 {
				to = a.Store.Today()
			}
			from := in.From
			if from == 0 {
				from = to - 13
			}
			if from > to || to-from > 400 {
				return nil, shop.Bad("from", "From one day to a later one, at most 400 days.")
			}
			groups, err := a.Store.LedgerBalances(ctx)
			if err != nil {
				return nil, err
			}
			entries, err := a.Store.LedgerDays(ctx, from, to)
			if err != nil {
				return nil, err
			}
			out := &ledgerOutput{}
			for _, g := range groups {
				o := ledgerGroupOut{Name: g.Name, Sum: g.Sum}
				for _, b := range g.Accounts {
					o.Accounts = append(o.Accounts, ledgerBalanceOut{b.Account, b.Cents})
				}
				out.Body.Groups = append(out.Body.Groups, o)
			}
			out.Body.Entries = postingsFrom(entries)
			return out, nil
		})
	operation(a, http.MethodGet, "/bookings/{number}/ledger", "booking-ledger", "A booking's own entries in the books", []shop.Role{shop.Staff},
		func(ctx context.Context, _ shop.Actor, in *bookingLedgerInput) (*postingsOutput, error) {
			b, err := a.Store.BookingByNumber(ctx, in.Number)
			if err != nil {
				return nil, err
			}
			all, err := a.Store.LedgerOf(ctx, b.ID)
			if err != nil {
				return nil, err
			}
			out := &postingsOutput{}
			out.Body.Entries = postingsFrom(all)
			return out, nil
		})
	operation(a, http.MethodGet, "/refunds", "refunds", "Money on its way back through the payment provider", owner,
		func(ctx context.Context, _ shop.Actor, _ *struct{}) (*refundsOutput, error) { return a.refunds(ctx) })
	operation(a, http.MethodPost, "/refunds/{id}", "settle-refund", "Try a failed refund again, or note that it was given back another way", owner,
		func(ctx context.Context, by shop.Actor, in *settleRefundInput) (*refundsOutput, error) {
			var err error
			if id := shop.RefundID(in.ID); in.Body.How == "again" {
				err = a.Store.RetryRefund(ctx, by, id)
			} else {
				err = a.Store.RefundOtherWay(ctx, by, id, in.Body.How, in.Body.Note)
			}
			if err != nil {
				return nil, err
			}
			return a.refunds(ctx)
		})
}
