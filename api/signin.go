package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
)

type signInInput struct {
	Body struct {
		Login    string `json:"login" minLength:"1" maxLength:"40"`
		Password string `json:"password" minLength:"1" maxLength:"1024"`
	}
}

type signInOutput struct {
	SetCookie string `header:"Set-Cookie"`
	Body      struct {
		Name string    `json:"name"`
		Role shop.Role `json:"role" enum:"owner,staff,kitchen"`
	}
}

type signOutInput struct {
	Session http.Cookie `cookie:"flitchbook_session"`
}

type signOutOutput struct {
	SetCookie string `header:"Set-Cookie"`
}

// sessionOperations are there when the server knows sessions. Programs sign in like
// people and send the cookie along.
func (a *Server) sessionOperations() {
	if a.Sessions == nil {
		return
	}
	operation(a, http.MethodPost, "/session", "sign-in", "Sign in", nil,
		func(ctx context.Context, _ shop.Actor, in *signInInput) (*signInOutput, error) {
			who, cookie, err := a.Sessions.SignIn(ctx, in.Body.Login, in.Body.Password)
			if err != nil {
				return nil, err
			}
			out := &signInOutput{SetCookie: cookie.String()}
			out.Body.Name, out.Body.Role = who.Name, who.Role
			return out, nil
		})
	operation(a, http.MethodDelete, "/session", "sign-out", "Sign out", []shop.Role{shop.Staff, shop.Kitchen},
		func(ctx context.Context, _ shop.Actor, in *signOutInput) (*signOutOutput, error) {
			cookie, err := a.Sessions.SignOut(ctx, in.Session.Value)
			if err != nil {
				return nil, err
			}
			return &signOutOutput{SetCookie: cookie.String()}, nil
		})
}
