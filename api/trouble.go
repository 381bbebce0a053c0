package api

import (
	"context"
	"net/http"
	"strings"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

type troublesOutput struct {
	Body struct {
		Troubles []troubleOut `json:"troubles" doc:"The nearest class first."`
	}
}

type troubleOutput struct{ Body troubleOut }

type troubleOut struct {
	Key     string       `json:"key" doc:"Stays the same while the trouble lasts; gone when it is over."`
	Title   string       `json:"title"`
	Lines   []string     `json:"lines" doc:"What happened."`
	Order   int          `json:"order,omitempty"`
	Short   int          `json:"short" doc:"Slabs missing."`
	Touched []touchedOut `json:"touched"`
	Ways    []troubleWay `json:"ways" doc:"Least harm first."`
	Plans   []planOut    `json:"plans" doc:"Ways that together mend it, least harm first."`
	Letters []letterOut  `json:"letters" doc:"Drafts; none goes by itself."`
}

type touchedOut struct {
	Class    string       `json:"class"`
	Starts   unit.Instant `json:"starts_at"`
	State    string       `json:"state"`
	MeatOnly bool         `json:"meat_only"`
	People   int          `json:"people"`
	Wanted   int          `json:"slabs_wanted"`
	Gets     int          `json:"slabs"`
	Short    int          `json:"short"`
	Unfed    int          `json:"seats_on_sale_without_a_slab"`
	Ready    unit.Day     `json:"ready_about,omitempty"`
	Bookings []partyOut   `json:"bookings"`
}

type partyOut struct {
	ID     shop.BookingID `json:"id"`
	Ref    string         `json:"ref"`
	Name   string         `json:"name"`
	People int            `json:"people"`
	Slabs  int            `json:"slabs"`
	Paid   unit.Money     `json:"paid"`
}

type troubleWay struct {
	ID     string     `json:"id,omitempty" doc:"What to post; none: a person must go and talk."`
	Way    string     `json:"way"`
	What   string     `json:"what"`
	Gain   int        `json:"gain" doc:"Slabs it surely gives."`
	Why    string     `json:"why"`
	Costs  string     `json:"costs"`
	People int        `json:"people" doc:"Who would be told otherwise."`
	Asked  int        `json:"asked" doc:"Who would be asked and may say no."`
	Seats  int        `json:"seats_off_sale"`
	Money  unit.Money `json:"money"`
}

type planOut struct {
	IDs   []string `json:"ids"`
	Text  string   `json:"text"`
	Gain  int      `json:"gain"`
	Costs string   `json:"costs"`
}

type letterOut struct {
	ID      string         `json:"id"`
	Title   string         `json:"title"`
	Subject string         `json:"subject"`
	Body    string         `json:"body"`
	To      []recipientOut `json:"to"`
}

type recipientOut struct {
	ID      string       `json:"id"`
	Name    string       `json:"name"`
	CanMail bool         `json:"can_be_written_to"`
	Written unit.Instant `json:"written_at,omitempty"`
}

func troubleFrom(t store.Trouble) troubleOut {
	o := troubleOut{Key: t.Key, Title: t.Title, Lines: append([]string{}, t.Lines...), Order: t.Order, Short: t.Short,
		Touched: []touchedOut{}, Ways: []troubleWay{}, Plans: []planOut{}, Letters: []letterOut{}}
	for _, c := range t.Touched {
		o.Touched = append(o.Touched, touchedFrom(c))
	}
	for _, w := range t.Ways {
		o.Ways = append(o.Ways, troubleWay{w.ID, w.Remedy, w.What, w.Gain, w.Why, w.Costs, w.Harm.People, w.Harm.Asked, w.Harm.Seats, w.Harm.Money})
	}
	for _, p := range t.Plans {
		o.Plans = append(o.Plans, planOut{p.IDs, p.Text, p.Gain, p.Costs})
	}
	for _, l := range t.Letters {
		lo := letterOut{ID: l.ID, Title: l.Title, Subject: l.Subject, Body: l.Body, To: []recipientOut{}}
		for _, r := range l.To {
			lo.To = append(lo.To, recipientOut{r.ID, r.Name, r.Mail, r.Written})
		}
		o.Letters = append(o.Letters, lo)
	}
	return o
}

func touchedFrom(c store.TouchedClass) touchedOut {
	o := touchedOut{Class: c.Code, Starts: c.Starts, State: string(c.State), MeatOnly: c.MeatOnly, People: c.People,
		Wanted: c.Wanted, Gets: c.Gets, Short: c.Short, Unfed: c.Unfed, Ready: c.Ready, Bookings: []partyOut{}}
	for _, b := range c.Bookings {
		o.Bookings = append(o.Bookings, partyOut{b.ID, b.Ref, b.Name, b.People, b.Slabs, b.Paid})
	}
	return o
}

type troublePath struct {
	Key string `path:"key" maxLength:"20"`
}

type takeWaysInput struct {
	Key  string `path:"key" maxLength:"20"`
	Once string `header:"Idempotency-Key" maxLength:"100"`
	Body struct {
		Ways   []string `json:"ways" minItems:"1" maxItems:"40" doc:"IDs off the sheet: all are taken or none."`
		Reason string   `json:"reason,omitempty" maxLength:"200" doc:"Read by whoever is moved or called off."`
	}
}

type sendLettersInput struct {
	Key    string `path:"key" maxLength:"20"`
	Letter string `path:"letter" maxLength:"20"`
	Body   struct {
		Subject string   `json:"subject" maxLength:"100"`
		Body    string   `json:"body" maxLength:"4000" doc:"Paragraphs, an empty line between them."`
		To      []string `json:"to" minItems:"1" maxItems:"200" doc:"IDs of recipients."`
	}
}

type sentOutput struct {
	Body struct {
		Sent int `json:"sent" doc:"Who has had the letter is passed over."`
	}
}

type thanksInput struct {
	Key  string `path:"key" maxLength:"20"`
	Once string `header:"Idempotency-Key" maxLength:"100"`
	Body struct {
		Booking shop.BookingID `json:"booking"`
		To      string         `json:"to" maxLength:"6" doc:"Code of the other class."`
	}
}

type moveKillInput struct {
	Number int `path:"number" minimum:"1"`
	Body   struct {
		To   unit.Day `json:"to"`
		Why  string   `json:"why,omitempty" maxLength:"200" doc:"The farm reads it."`
		Look bool     `json:"look,omitempty" doc:"Only say what it touches; save nothing."`
	}
}

type moveKillOutput struct {
	Body struct {
		From     unit.Day          `json:"from"`
		To       unit.Day          `json:"to"`
		Delivery unit.Day          `json:"delivery,omitempty"`
		Fits     bool              `json:"fits"`
		No       []string          `json:"no,omitempty" doc:"What stands in the way of the order as a whole."`
		Touched  []movedTouchedOut `json:"touched"`
	}
}

type movedTouchedOut struct {
	touchedOut
	Fits bool   `json:"fits"`
	Why  string `json:"why"`
}

func (a *Server) troubleOperations() {
	owner := []shop.Role{shop.Owner}
	operation(a, http.MethodGet, "/troubles", "troubles", "What is wrong with the meat of classes ahead, and the ways out", owner,
		func(ctx context.Context, _ shop.Actor, _ *struct{}) (*troublesOutput, error) {
			list, err := a.Store.Troubles(ctx)
			if err != nil {
				return nil, err
			}
			out := &troublesOutput{}
			out.Body.Troubles = []troubleOut{}
			for _, t := range list {
				out.Body.Troubles = append(out.Body.Troubles, troubleFrom(t))
			}
			return out, nil
		})
	operation(a, http.MethodGet, "/troubles/{key}", "trouble", "One trouble's sheet", owner,
		func(ctx context.Context, _ shop.Actor, in *troublePath) (*troubleOutput, error) {
			t, err := a.Store.Trouble(ctx, in.Key)
			if err != nil {
				return nil, err
			}
			return &troubleOutput{troubleFrom(*t)}, nil
		})
	operation(a, http.MethodPost, "/troubles/{key}/ways", "take-ways", "Take ways out, all or none", owner,
		func(ctx context.Context, by shop.Actor, in *takeWaysInput) (*nothing, error) {
			return &nothing{}, a.Store.TakeWays(ctx, by, in.Key, in.Body.Ways, in.Body.Reason,
				store.Once{Key: in.Once, Fingerprint: in.Key + strings.Join(in.Body.Ways, ",")})
		})
	operation(a, http.MethodPost, "/troubles/{key}/letters/{letter}", "send-letters", "Send one of its letters, as edited", owner,
		func(ctx context.Context, by shop.Actor, in *sendLettersInput) (*sentOutput, error) {
			n, err := a.Store.SendLetters(ctx, by, in.Key, in.Letter, shop.LetterText{Subject: in.Body.Subject, Body: in.Body.Body}, in.Body.To)
			if err != nil {
				return nil, err
			}
			out := &sentOutput{}
			out.Body.Sent = n
			return out, nil
		})
	operation(a, http.MethodPost, "/troubles/{key}/thanks", "move-with-thanks", "Move a party that said yes, with a tenth of what it paid as credit", owner,
		func(ctx context.Context, by shop.Actor, in *thanksInput) (*nothing, error) {
			return &nothing{}, a.Store.MoveWithThanks(ctx, by, in.Body.Booking, in.Body.To, store.Once{Key: in.Once, Fingerprint: in.Body.To})
		})
	operation(a, http.MethodPost, "/orders/{number}/kill-day", "move-kill", "Write down that the plant moved an order's kill", owner,
		func(ctx context.Context, by shop.Actor, in *moveKillInput) (*moveKillOutput, error) {
			m, err := a.Store.KillMoves(ctx, in.Number, in.Body.To)
			if err == nil && !in.Body.Look {
				m, err = a.Store.MoveKill(ctx, by, in.Number, in.Body.To, in.Body.Why)
			}
			if err != nil {
				return nil, err
			}
			out := &moveKillOutput{}
			b := &out.Body
			b.From, b.To, b.Delivery, b.Fits, b.No, b.Touched = m.From, m.To, m.Deliver, m.Fits, m.Whole, []movedTouchedOut{}
			for _, c := range m.Touched {
				b.Touched = append(b.Touched, movedTouchedOut{touchedFrom(c.TouchedClass), c.Fits, c.Why})
			}
			return out, nil
		})
}
