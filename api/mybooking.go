package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

type classOutput struct {
	Body struct {
		ClassOut
		Does     string    `json:"does"`
		Sees     string    `json:"sees"`
		Eats     string    `json:"eats"`
		Takes    string    `json:"takes"`
		Wear     string    `json:"wear"`
		Access   string    `json:"access"`
		MinAge   int       `json:"min_age" doc:"Youngest for a seat, on the day of the class; 0: all ages."`
		WatchAge int       `json:"watch_age" doc:"Youngest for a watching seat; 0: there are none."`
		Waiting  int       `json:"waiting" doc:"Parties on the waiting list."`
		Jars     []jarOut  `json:"jars"`
		Others   []dateOut `json:"others" doc:"Other dates of the same kind that have room."`
	}
}

type jarOut struct {
	Code      string `json:"code" example:"PB"`
	Name      string `json:"name"`
	Contents  string `json:"contents"`
	Allergens string `json:"allergens"`
	Away      bool   `json:"away" doc:"Not on the table that day."`
}

type dateOut struct {
	Code     string       `json:"code"`
	StartsAt unit.Instant `json:"starts_at"`
	Left     int          `json:"left"`
}

type myBookingOutput struct{ Body myBookingOut }

type myBookingOut struct {
	BookingOut
	BalanceDueOn unit.Day      `json:"balance_due_on" doc:"Day by which the rest is due; empty when nothing is for later."`
	OfferUntil   unit.Instant  `json:"offer_until" doc:"Until when an offer from the waiting list stands."`
	AnswerUntil  unit.Instant  `json:"answer_until" doc:"The shop called off or moved the class: choose by then."`
	Ahead        int           `json:"ahead" doc:"Parties before this one on the waiting list; -1 when it does not wait."`
	Collector    string        `json:"collector"`
	Sliced       bool          `json:"sliced"`
	People       []personState `json:"people"`
}

type personState struct {
	Seat  int64         `json:"seat" doc:"To name in a letting-go."`
	Name  string        `json:"name"`
	Kind  shop.SeatKind `json:"kind"`
	Slabs int           `json:"slabs"`
	Told  bool          `json:"told" doc:"Has answered about food. What, only the shop sees."`
	Picks []pickOut     `json:"picks"`
	Link  string        `json:"link,omitempty" doc:"This person's own page."`
}

type pickOut struct {
	Slab  int            `json:"slab"`
	State shop.PickState `json:"state"`
	Jar   string         `json:"jar"`
	Tag   string         `json:"tag,omitempty"`
}

func (a *Server) myBookingFrom(v *store.BookingView) *myBookingOutput {
	out := &myBookingOutput{myBookingOut{BookingOut: a.bookingFrom(v, true).Body, BalanceDueOn: v.BalanceDueOn, OfferUntil: v.OfferUntil,
		AnswerUntil: v.AnswerUntil, Ahead: v.Ahead, Collector: v.Collector, Sliced: v.Sliced, People: []personState{}}}
	for _, p := range v.People {
		ps := personState{Seat: int64(p.SeatID), Name: p.Name, Kind: p.Kind, Slabs: p.Slabs, Told: p.Told, Picks: picksFrom(p.Picks)}
		if p.Secret != "" {
			ps.Link = a.Store.Config.BaseURL + "/g/" + p.Secret
		}
		out.Body.People = append(out.Body.People, ps)
	}
	return out
}

func picksFrom(picks []store.PickView) []pickOut {
	out := []pickOut{}
	for _, k := range picks {
		out = append(out, pickOut{Slab: k.Slot, State: k.State, Jar: k.Code, Tag: k.Tag})
	}
	return out
}

type leaveOutput struct {
	Body struct {
		Words string     `json:"words" doc:"For the whole party, as a person reads it." example:"$82.50 back, or $165.00 credit"`
		Why   string     `json:"why"`
		Seats []leaveOut `json:"seats"`
	}
}

type leaveOut struct {
	Seat   int64      `json:"seat"`
	Name   string     `json:"name"`
	Money  unit.Money `json:"money" doc:"Back at once when money is chosen."`
	Credit unit.Money `json:"credit" doc:"Credited at once when credit is chosen; $0.00 when that is not offered."`
	IfSold unit.Money `json:"if_sold" doc:"Credited if the seat is sold again before the class."`
}

type leaveInput struct {
	Secret string `path:"secret" maxLength:"64"`
	Key    string `header:"Idempotency-Key" maxLength:"100" doc:"A word of your own: sent twice it counts once."`
	Body   struct {
		Seats       []seatLeaveIn `json:"seats,omitempty" maxItems:"40" doc:"None named: the whole party."`
		Choice      string        `json:"choice,omitempty" enum:"money,credit" doc:"For every seat that names none."`
		CreditName  string        `json:"credit_name,omitempty" maxLength:"80" doc:"Whose the credit shall be; the payer's when left out."`
		CreditEmail string        `json:"credit_email,omitempty" maxLength:"254"`
	}
}

type seatLeaveIn struct {
	Seat   int64  `json:"seat"`
	Choice string `json:"choice,omitempty" enum:"money,credit"`
}

type moveInput struct {
	Secret string `path:"secret" maxLength:"64"`
	Key    string `header:"Idempotency-Key" maxLength:"100" doc:"A word of your own: sent twice it counts once."`
	Body   struct {
		To string `json:"to" maxLength:"20" doc:"Code of the class."`
	}
}

type choiceInput struct {
	Secret string `path:"secret" maxLength:"64"`
	Body   struct {
		Choice string `json:"choice" enum:"money,credit,move,accept"`
		To     string `json:"to,omitempty" maxLength:"20" doc:"Code of the class, for a move."`
	}
}

type guestOutput struct {
	Body struct {
		Name     string            `json:"name"`
		Class    string            `json:"class"`
		StartsAt unit.Instant      `json:"starts_at"`
		Seat     shop.SeatKind     `json:"seat"`
		State    shop.BookingState `json:"state"`
		Told     bool              `json:"told" doc:"Has answered about food. The answer itself is not shown again."`
		Picks    []pickOut         `json:"picks"`
		Jars     []jarOut          `json:"jars"`
		Until    unit.Instant      `json:"picks_until" doc:"After that an open spice is chosen at the table."`
	}
}

type guestInput struct {
	Secret string `path:"secret" maxLength:"64"`
	Body   struct {
		Name  string   `json:"name,omitempty" maxLength:"80"`
		Age   int      `json:"age,omitempty" minimum:"0" maximum:"17" doc:"On the day of the class, of somebody under 18."`
		Wine  bool     `json:"wine,omitempty"`
		Needs *needsIn `json:"needs,omitempty" doc:"Left out, the answer stands as it is."`
		Picks []pickIn `json:"picks,omitempty" maxItems:"2"`
	}
}

type pickIn struct {
	Slab int    `json:"slab" minimum:"1" maximum:"2"`
	Jar  string `json:"jar" maxLength:"10" doc:"Code of a jar; \"day\": chosen at the table; empty: open."`
}

type needsIn struct {
	State    shop.NeedsState `json:"state" enum:"not told,none,list"`
	Remember bool            `json:"remember,omitempty"`
	List     []needIn        `json:"list,omitempty" maxItems:"20"`
}

type needIn struct {
	Allergen string `json:"allergen" maxLength:"20"`
	Severe   bool   `json:"severe,omitempty"`
	Words    string `json:"words,omitempty" maxLength:"200"`
}

func (n *needsIn) answers() shop.Answers {
	if n == nil {
		return shop.Answers{}
	}
	a := shop.Answers{State: n.State, Remember: n.Remember}
	for _, x := range n.List {
		a.Needs = append(a.Needs, shop.NewNeed{Allergen: x.Allergen, Severe: x.Severe, Words: x.Words})
	}
	return a
}

func jarsFrom(jars []store.JarChoice) []jarOut {
	out := []jarOut{}
	for _, j := range jars {
		out = append(out, jarOut{j.Code, j.Name, j.Contents, j.Allergens, j.Away})
	}
	return out
}

// myBookingOperations are what a payer and a guest do by their private links, and what a
// visitor may know of one class.
func (a *Server) myBookingOperations() {
	operation(a, http.MethodGet, "/classes/{code}", "get-class", "One class of the public season", nil,
		func(ctx context.Context, _ shop.Actor, in *struct {
			Code string `path:"code" maxLength:"20"`
		}) (*classOutput, error) {
			p, err := a.Store.ClassPage(ctx, in.Code)
			if err != nil {
				return nil, err
			}
			out := &classOutput{}
			b := &out.Body
			b.ClassOut, b.Does, b.Sees, b.Eats, b.Takes, b.Wear, b.Access = classFrom(p.ClassCard), p.Does, p.Sees, p.Eats, p.Takes, p.Wear, p.Access
			b.MinAge, b.WatchAge, b.Waiting, b.Jars, b.Others = p.MinAge, p.WatchAge, p.Waiting, jarsFrom(p.Jars), []dateOut{}
			for _, o := range p.Others {
				b.Others = append(b.Others, dateOut{o.Code, o.StartsAt, o.Left})
			}
			return out, nil
		})
	operation(a, http.MethodPost, "/classes/{code}/waiting", "join-waiting", "Join the waiting list of a class that has no room", nil,
		func(ctx context.Context, by shop.Actor, in *bookInput) (*bookingOutput, error) {
			once, err := onceOf(in.Key, in.Class, in.Body)
			if err != nil {
				return nil, err
			}
			v, err := a.Store.JoinWaiting(ctx, by, in.booking(by), once)
			if err != nil {
				return nil, err
			}
			return a.bookingFrom(v, true), nil
		})
	operation(a, http.MethodGet, "/my-booking/{secret}/leave", "quote-leave", "What letting seats go would give back today, to the cent", nil,
		func(ctx context.Context, _ shop.Actor, in *myBookingInput) (*leaveOutput, error) {
			v, err := a.Store.MyBooking(ctx, in.Secret)
			if err != nil {
				return nil, err
			}
			q, err := a.Store.LeaveQuote(ctx, v.ID)
			if err != nil {
				return nil, err
			}
			out := &leaveOutput{}
			out.Body.Words, out.Body.Why, out.Body.Seats = q.Words, q.All.Why, []leaveOut{}
			for _, s := range q.Seats {
				out.Body.Seats = append(out.Body.Seats, leaveOut{int64(s.Seat), s.Guest, s.Money, s.Credit, s.IfSold})
			}
			return out, nil
		})
	operation(a, http.MethodPost, "/my-booking/{secret}/leave", "leave", "Let seats go; what comes back is what the quote says", nil,
		func(ctx context.Context, _ shop.Actor, in *leaveInput) (*myBookingOutput, error) {
			leave := shop.LeaveIn{Choice: in.Body.Choice, CreditName: in.Body.CreditName, CreditEmail: in.Body.CreditEmail}
			for _, s := range in.Body.Seats {
				leave.Seats = append(leave.Seats, shop.SeatLeave{Seat: shop.SeatID(s.Seat), Choice: s.Choice})
			}
			return a.changeMine(ctx, in.Secret, in.Key, in.Body, func(id shop.BookingID, by shop.Actor, once store.Once) (*store.BookingView, error) {
				return a.Store.LetGo(ctx, by, id, leave, once)
			})
		})
	operation(a, http.MethodPost, "/my-booking/{secret}/move", "move", "Move the whole party to another class", nil,
		func(ctx context.Context, _ shop.Actor, in *moveInput) (*myBookingOutput, error) {
			return a.changeMine(ctx, in.Secret, in.Key, in.Body, func(id shop.BookingID, by shop.Actor, once store.Once) (*store.BookingView, error) {
				return a.Store.MoveBooking(ctx, by, id, in.Body.To, once)
			})
		})
	operation(a, http.MethodPost, "/my-booking/{secret}/answer", "answer", "Choose after the shop called off or moved the class", nil,
		func(ctx context.Context, _ shop.Actor, in *choiceInput) (*myBookingOutput, error) {
			return a.changeMine(ctx, in.Secret, "", nil, func(id shop.BookingID, by shop.Actor, _ store.Once) (*store.BookingView, error) {
				return a.Store.Answer(ctx, by, id, in.Body.Choice, in.Body.To)
			})
		})
	operation(a, http.MethodPost, "/my-booking/{secret}/offer", "take-offer", "Take seats offered from the waiting list", nil,
		func(ctx context.Context, _ shop.Actor, in *myBookingInput) (*myBookingOutput, error) {
			return a.changeMine(ctx, in.Secret, "", nil, func(id shop.BookingID, by shop.Actor, _ store.Once) (*store.BookingView, error) {
				if err := a.Store.TakeOffer(ctx, by, id); err != nil {
					return nil, err
				}
				return a.Store.BookingByID(ctx, id)
			})
		})
	operation(a, http.MethodGet, "/guests/{secret}", "get-guest", "One person's own place, by the secret of their link", nil,
		func(ctx context.Context, _ shop.Actor, in *myBookingInput) (*guestOutput, error) {
			return a.guestOut(ctx, in.Secret)
		})
	operation(a, http.MethodPut, "/guests/{secret}", "save-guest", "Say who comes, what they cannot eat and which spice; all of it or nothing", nil,
		func(ctx context.Context, _ shop.Actor, in *guestInput) (*guestOutput, error) {
			g, err := a.Store.GuestPage(ctx, in.Secret)
			if err != nil {
				return nil, err
			}
			answers := shop.GuestAnswers{Name: in.Body.Name, Age: in.Body.Age, Wine: in.Body.Wine, Answers: in.Body.Needs.answers(), Picks: map[int]string{}}
			for _, p := range in.Body.Picks {
				answers.Picks[p.Slab] = p.Jar
			}
			if err := a.Store.SaveGuest(ctx, shop.Customer("guest by link"), g.ID, answers); err != nil {
				return nil, err
			}
			return a.guestOut(ctx, in.Secret)
		})
}

// changeMine runs a change on the booking of a private link.
func (a *Server) changeMine(ctx context.Context, secret, key string, asked any, do func(shop.BookingID, shop.Actor, store.Once) (*store.BookingView, error)) (*myBookingOutput, error) {
	b, err := a.Store.MyBooking(ctx, secret)
	if err != nil {
		return nil, err
	}
	once, err := onceOf(key, b.ID, asked)
	if err != nil {
		return nil, err
	}
	v, err := do(b.ID, shop.Customer("payer of "+b.Ref), once)
	if err != nil {
		return nil, err
	}
	return a.myBookingFrom(v), nil
}

func (a *Server) guestOut(ctx context.Context, secret string) (*guestOutput, error) {
	g, err := a.Store.GuestPage(ctx, secret)
	if err != nil {
		return nil, err
	}
	out := &guestOutput{}
	b := &out.Body
	b.Name, b.Class, b.StartsAt, b.Seat, b.State = g.Name, g.Class.Code, g.Class.StartsAt, g.Kind, g.State
	b.Told, b.Picks, b.Jars, b.Until = g.NeedsState != shop.NotTold, picksFrom(g.Picks), jarsFrom(g.Jars), max(g.PicksUntil, g.CureUntil)
	return out, nil
}
