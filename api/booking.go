package api

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

type classesOutput struct {
	Body struct {
		Classes []ClassOut `json:"classes"`
	}
}

// ClassOut is a class as a list shows it.
type ClassOut struct {
	Code       string       `json:"code" example:"B4"`
	Title      string       `json:"title"`
	Kind       string       `json:"kind" example:"bacon"`
	StartsAt   unit.Instant `json:"starts_at"`
	EndsAt     unit.Instant `json:"ends_at"`
	Seats      int          `json:"seats"`
	Left       int          `json:"left" doc:"Seats that may be booked now."`
	Held       int          `json:"held" doc:"Seats that somebody is paying for."`
	Price      unit.Money   `json:"price" doc:"Of one seat, booked now."`
	ReadyAbout unit.Day     `json:"ready_about" doc:"When the bacon of a slab class is ready, about; empty for others."`
	OnSale     bool         `json:"on_sale"`
}

func classFrom(c store.ClassCard) ClassOut {
	return ClassOut{Code: c.Code, Title: c.Title, Kind: c.Kind, StartsAt: c.StartsAt, EndsAt: c.EndsAt, Seats: c.Seats, Left: c.Left,
		Held: c.Held, Price: c.Price, ReadyAbout: c.ReadyAbout, OnSale: c.OnSale}
}

type bookInput struct {
	Class string `path:"code" maxLength:"20"`
	Key   string `header:"Idempotency-Key" maxLength:"100" doc:"A word of your own for this booking: sent twice it counts once."`
	Body  struct {
		Name      string     `json:"name" maxLength:"80" doc:"Who pays."`
		Email     string     `json:"email" maxLength:"254"`
		Phone     string     `json:"phone,omitempty" maxLength:"40"`
		Collector string     `json:"collector,omitempty" maxLength:"80" doc:"Who fetches; the payer when left out."`
		Note      string     `json:"note,omitempty" maxLength:"500"`
		People    []personIn `json:"people" minItems:"1" maxItems:"40"`
	}
}

type personIn struct {
	Name   string        `json:"name,omitempty" maxLength:"80" doc:"May come later."`
	Email  string        `json:"email,omitempty" maxLength:"254"`
	Age    int           `json:"age,omitempty" minimum:"0" maximum:"17" doc:"On the day of the class, of somebody under 18."`
	Seat   shop.SeatKind `json:"seat,omitempty" enum:"slab,watch,guest" doc:"The class's usual kind when left out."`
	Second bool          `json:"second,omitempty" doc:"A second slab on this seat."`
	Payer  bool          `json:"payer,omitempty" doc:"This person is the payer."`
	Wine   bool          `json:"wine,omitempty"`
	Needs  *needsIn      `json:"needs,omitempty" doc:"What this person cannot eat; left out: not told yet."`
	Picks  []string      `json:"picks,omitempty" maxItems:"2" doc:"Code of a jar for each slab; \"day\": chosen at the table; empty: open."`
}

// booking is what was asked for, as the shop reads it.
func (in *bookInput) booking(by shop.Actor) shop.NewBooking {
	n := shop.NewBooking{Class: in.Class, Counter: by.IsStaff(), PayerName: in.Body.Name, PayerEmail: in.Body.Email,
		PayerPhone: in.Body.Phone, Collector: in.Body.Collector, Note: in.Body.Note}
	for _, p := range in.Body.People {
		n.People = append(n.People, shop.NewPerson{Name: p.Name, Email: p.Email, Age: p.Age, Seat: p.Seat, Second: p.Second, Payer: p.Payer, Wine: p.Wine,
			Needs: p.Needs.answers(), Picks: p.Picks})
	}
	return n
}

type bookingOutput struct{ Body BookingOut }

// BookingOut is a booking in short.
type BookingOut struct {
	Number     int               `json:"number"`
	Ref        string            `json:"ref" example:"K28"`
	Link       string            `json:"link,omitempty" doc:"The payer's own page; whoever has it may change the booking."`
	State      shop.BookingState `json:"state"`
	Class      string            `json:"class"`
	Places     int               `json:"places"`
	Watching   int               `json:"watching"`
	Total      unit.Money        `json:"total"`
	Paid       unit.Money        `json:"paid"`
	Owes       unit.Money        `json:"owes"`
	DueNow     unit.Money        `json:"due_now" doc:"What makes held seats firm."`
	HoldUntil  unit.Instant      `json:"hold_until" doc:"Empty unless the seats are held."`
	ReadyAbout unit.Day          `json:"ready_about"`
	Returned   unit.Money        `json:"returned,omitempty" doc:"Given straight back by this payment."`
}

func (a *Server) bookingFrom(v *store.BookingView, link bool) *bookingOutput {
	out := &bookingOutput{BookingOut{Number: v.Number, Ref: v.Ref, State: v.State, Class: v.Class.Code, Places: v.Places, Watching: v.Watching,
		Total: v.Total, Paid: v.Paid, Owes: v.Owes, DueNow: v.DueNow, HoldUntil: v.HoldUntil, ReadyAbout: v.ReadyAbout}}
	if link {
		out.Body.Link = a.Store.Config.BaseURL + "/b/" + v.Secret
	}
	return out
}

type payInput struct {
	Number int    `path:"number" minimum:"1"`
	Key    string `header:"Idempotency-Key" required:"true" minLength:"1" maxLength:"100" doc:"A word of your own for this payment: sent twice it counts once."`
	Body   struct {
		Amount   unit.Money `json:"amount" example:"$95.00"`
		Method   string     `json:"method,omitempty" enum:"cash,card,transfer"`
		Vouchers []string   `json:"vouchers,omitempty" maxItems:"50"`
		Note     string     `json:"note,omitempty" maxLength:"200"`
	}
}

type finalCountInput struct {
	Number int `path:"number" minimum:"1"`
	Body   struct {
		Heads int `json:"heads" minimum:"1" maximum:"500"`
	}
}

type myBookingInput struct {
	Secret string `path:"secret" maxLength:"64"`
}

// bookingOperations sell seats. Visitors book, and see what they booked by its secret;
// money at the counter is taken by staff.
func (a *Server) bookingOperations() {
	operation(a, http.MethodGet, "/classes", "list-classes", "The public season", nil,
		func(ctx context.Context, _ shop.Actor, _ *struct{}) (*classesOutput, error) {
			page, err := a.Store.SeasonPage(ctx)
			if err != nil {
				return nil, err
			}
			out := &classesOutput{}
			out.Body.Classes = []ClassOut{}
			for _, c := range page.Classes {
				out.Body.Classes = append(out.Body.Classes, classFrom(c))
			}
			return out, nil
		})
	operation(a, http.MethodPost, "/classes/{code}/bookings", "book", "Hold seats for a party until they are paid for", nil,
		func(ctx context.Context, by shop.Actor, in *bookInput) (*bookingOutput, error) {
			n := in.booking(by)
			if !by.IsStaff() {
				by = shop.Customer("online") // the name stands in the booking, where it can be erased
			}
			once, err := onceOf(in.Key, in.Class, in.Body)
			if err != nil {
				return nil, err
			}
			v, err := a.Store.Book(ctx, by, n, once)
			if err != nil {
				return nil, err
			}
			return a.bookingFrom(v, true), nil
		})
	operation(a, http.MethodGet, "/my-booking/{secret}", "my-booking", "A booking by the secret of its link", nil,
		func(ctx context.Context, _ shop.Actor, in *myBookingInput) (*myBookingOutput, error) {
			v, err := a.Store.MyBooking(ctx, in.Secret)
			if err != nil {
				return nil, err
			}
			return a.myBookingFrom(v), nil
		})
	operation(a, http.MethodGet, "/bookings/{number}", "get-booking", "A booking by its number", []shop.Role{shop.Staff},
		func(ctx context.Context, _ shop.Actor, in *struct {
			Number int `path:"number" minimum:"1"`
		}) (*bookingOutput, error) {
			v, err := a.Store.BookingByNumber(ctx, in.Number)
			if err != nil {
				return nil, err
			}
			return a.bookingFrom(v, false), nil
		})
	operation(a, http.MethodPost, "/bookings/{number}/payments", "take-payment", "Take money for a booking at the counter", []shop.Role{shop.Staff},
		func(ctx context.Context, by shop.Actor, in *payInput) (*bookingOutput, error) {
			v, err := a.Store.BookingByNumber(ctx, in.Number)
			if err != nil {
				return nil, err
			}
			paid, err := a.Store.Pay(ctx, by, v.ID, shop.PaymentIn{Cents: in.Body.Amount, Method: in.Body.Method, Key: in.Key, Vouchers: in.Body.Vouchers, Note: in.Body.Note})
			if err != nil {
				return nil, err
			}
			out := a.bookingFrom(paid.Booking, false)
			out.Body.Returned = paid.Returned
			return out, nil
		})
	operation(a, http.MethodPost, "/bookings/{number}/final-count", "final-count", "Settle the head count of a private party", []shop.Role{shop.Staff},
		func(ctx context.Context, by shop.Actor, in *finalCountInput) (*bookingOutput, error) {
			v, err := a.Store.BookingByNumber(ctx, in.Number)
			if err != nil {
				return nil, err
			}
			if v, err = a.Store.FinalCount(ctx, by, v.ID, in.Body.Heads); err != nil {
				return nil, err
			}
			return a.bookingFrom(v, false), nil
		})
}

// onceOf names one request, so that the same one sent again counts once and another
// under the same key is refused.
func onceOf(key string, asked ...any) (store.Once, error) {
	if key == "" {
		return store.Once{}, nil
	}
	b, err := json.Marshal(asked)
	if err != nil {
		return store.Once{}, err
	}
	h := sha256.Sum256(b)
	return store.Once{Key: key, Fingerprint: hex.EncodeToString(h[:])}, nil
}
