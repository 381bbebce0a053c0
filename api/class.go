package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

type newClassInput struct {
	Body struct {
		Code      string       `json:"code" maxLength:"12" example:"B9" doc:"Begins every tag of the class."`
		Kind      string       `json:"kind" maxLength:"40" example:"bacon"`
		Title     string       `json:"title,omitempty" maxLength:"80" doc:"The kind's name when left out."`
		StartsAt  unit.Instant `json:"starts_at"`
		Minutes   int          `json:"minutes,omitempty" minimum:"0" maximum:"1440" doc:"The kind's when left out."`
		Seats     int          `json:"seats,omitempty" minimum:"0" maximum:"500" doc:"The kind's when left out."`
		MinSeats  *int         `json:"min_seats,omitempty" minimum:"0" maximum:"500" doc:"Fewest to go ahead; the kind's when left out."`
		DemoSlabs *int         `json:"demo_slabs,omitempty" minimum:"0" maximum:"20" doc:"The house rule when left out."`
		Private   bool         `json:"private,omitempty"`
		Flat      unit.Money   `json:"flat,omitempty" doc:"Whole price of a private party."`
	}
}

type classStateOutput struct {
	Body struct {
		Code     string          `json:"code"`
		State    shop.ClassState `json:"state"`
		StartsAt unit.Instant    `json:"starts_at"`
		Seats    int             `json:"seats"`
		Left     int             `json:"left"`
	}
}

type classPath struct {
	Code string `path:"code" maxLength:"20"`
}

type classReasonInput struct {
	Code string `path:"code" maxLength:"20"`
	Body struct {
		Reason string `json:"reason" minLength:"1" maxLength:"200" doc:"Its guests read it."`
	}
}

type moveClassInput struct {
	Code string `path:"code" maxLength:"20"`
	Body struct {
		StartsAt unit.Instant `json:"starts_at"`
		Reason   string       `json:"reason" minLength:"1" maxLength:"200" doc:"Its guests read it."`
	}
}

type seatInput struct {
	Seat shop.SeatID `path:"seat" minimum:"1"`
}

type guestIDInput struct {
	Guest shop.GuestID `path:"guest" minimum:"1"`
}

// classState answers a change to a class with how it stands now.
func (a *Server) classState(ctx context.Context, code string) (*classStateOutput, error) {
	c, err := a.Store.AnyClass(ctx, code)
	if err != nil {
		return nil, err
	}
	out := &classStateOutput{}
	out.Body.Code, out.Body.State, out.Body.StartsAt, out.Body.Seats, out.Body.Left = c.Code, c.State, c.StartsAt, c.Seats, c.Left
	return out, nil
}

func orElse(n *int, none int) int {
	if n == nil {
		return none
	}
	return *n
}

// classOperations sketch, open, hold and call off classes, and note who came.
func (a *Server) classOperations() {
	owner, staff := []shop.Role{shop.Owner}, []shop.Role{shop.Staff}
	operation(a, http.MethodPost, "/classes", "add-class", "Sketch a class; it is on sale once published", owner,
		func(ctx context.Context, by shop.Actor, in *newClassInput) (*classStateOutput, error) {
			b := in.Body
			c, err := a.Store.AddClass(ctx, by, shop.NewClass{Code: b.Code, Kind: b.Kind, Title: b.Title, StartsAt: b.StartsAt, Minutes: b.Minutes,
				Seats: b.Seats, MinSeats: orElse(b.MinSeats, -1), DemoSlabs: orElse(b.DemoSlabs, -1), Private: b.Private, FlatCents: b.Flat})
			if err != nil {
				return nil, err
			}
			return a.classState(ctx, c.Code)
		})
	turn := func(path, id, summary string, roles []shop.Role, do func(context.Context, shop.Actor, string) error) {
		operation(a, http.MethodPost, "/classes/{code}/"+path, id, summary, roles,
			func(ctx context.Context, by shop.Actor, in *classPath) (*classStateOutput, error) {
				if err := do(ctx, by, in.Code); err != nil {
					return nil, err
				}
				return a.classState(ctx, in.Code)
			})
	}
	turn("publish", "publish-class", "Open a class for booking, if rack, hooks and days can bear it", owner, a.Store.Publish)
	turn("goahead", "go-ahead", "Say that a class goes ahead", owner, a.Store.GoAhead)
	turn("taught", "class-taught", "Note that a class was taught", staff, a.Store.MarkTaught)
	turn("closeout", "close-out-class", "Close a class out: as many slabs sealed as were cut, or the missing ones are named", staff, a.Store.CloseOut)
	operation(a, http.MethodGet, "/classes/{code}/sealing", "get-sealing", "Which bags are sealed when, by the wall clock, and how many are", staff,
		func(ctx context.Context, _ shop.Actor, in *classPath) (*sealingOutput, error) {
			s, err := a.Store.SealSheet(ctx, in.Code)
			if err != nil {
				return nil, err
			}
			return &sealingOutput{sealingFrom(s)}, nil
		})
	operation(a, http.MethodPost, "/classes/{code}/calloff", "call-off-class", "Call a class off; each party chooses what it has back", owner,
		func(ctx context.Context, by shop.Actor, in *classReasonInput) (*classStateOutput, error) {
			if err := a.Store.CallOff(ctx, by, in.Code, in.Body.Reason); err != nil {
				return nil, err
			}
			return a.classState(ctx, in.Code)
		})
	operation(a, http.MethodPost, "/classes/{code}/move", "move-class", "Give a class another date; each party is asked", owner,
		func(ctx context.Context, by shop.Actor, in *moveClassInput) (*classStateOutput, error) {
			if err := a.Store.MoveClass(ctx, by, in.Code, in.Body.StartsAt, in.Body.Reason); err != nil {
				return nil, err
			}
			return a.classState(ctx, in.Code)
		})
	operation(a, http.MethodPost, "/seats/{seat}/came", "check-in", "Note that a person came", staff,
		func(ctx context.Context, by shop.Actor, in *seatInput) (*struct{}, error) {
			return nil, a.Store.CheckIn(ctx, by, in.Seat)
		})
	operation(a, http.MethodPost, "/seats/{seat}/missed", "mark-missed", "Note that a person did not come", staff,
		func(ctx context.Context, by shop.Actor, in *seatInput) (*struct{}, error) {
			return nil, a.Store.MarkMissed(ctx, by, in.Seat)
		})
	operation(a, http.MethodPost, "/people/{guest}/signed", "guardian-signed", "Note a guardian's signature", staff,
		func(ctx context.Context, by shop.Actor, in *guestIDInput) (*struct{}, error) {
			return nil, a.Store.SignGuardian(ctx, by, in.Guest)
		})
}
