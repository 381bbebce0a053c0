package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
)

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

type sendReplyInput struct {
	Key  string `header:"Idempotency-Key" required:"true" minLength:"1" maxLength:"100" doc:"A word of your own for this answer: sent twice it leaves once."`
	Body struct {
		To      string `json:"to" maxLength:"254" doc:"An e-mail address."`
		Name    string `json:"name,omitempty" maxLength:"80"`
		Subject string `json:"subject" maxLength:"1000" doc:"One line of at most 200 letters."`
		Body    string `json:"body" maxLength:"20000" doc:"At most 5000 letters."`
	}
}

// answerOperations draft answers to usual questions and send them; a person reads them
// between the two.
func (a *Server) answerOperations() {
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
	operation(a, http.MethodPost, "/answers/send", "send-answer", "Send an answer in the shop's own words", []shop.Role{shop.Staff},
		func(ctx context.Context, by shop.Actor, in *sendReplyInput) (*nothing, error) {
			once, err := onceOf(in.Key, in.Body)
			if err != nil {
				return nil, err
			}
			return &nothing{}, a.Store.SendReply(ctx, by, in.Body.To, in.Body.Name, in.Body.Subject, in.Body.Body, once)
		})
}
