package api

import (
	"context"
	"encoding/base64"
	"net/http"
	"strings"
	"time"

	"github.com/alexedwards/scs/v2"
	"github.com/labstack/echo/v4"

	"flitchbook/api/shop"
	"flitchbook/api/store"
)

// Names of the cookies.
const (
	sessionCookie = "flitchbook_session"
	saidCookie    = "flitchbook_said"
)

// What a session carries.
const (
	accountKey = "account"
	stampKey   = "stamp"
)

// Sessions knows who is signed in. A session is written when somebody signs in or out
// and at no other time, so that reading a page writes nothing.
type Sessions struct {
	store  *store.Store
	m      *scs.SessionManager
	tries  *Limit // by login
	secure bool
}

// NewSessions keeps sessions in the store for a lifetime, by the given wall clock.
// Cookies go over TLS only when the shop's address is an https one.
func NewSessions(s *store.Store, now func() time.Time, lifetime time.Duration) *Sessions {
	// Not scs.New: it starts a goroutine for a memory store that nobody can stop.
	m := &scs.SessionManager{Store: s.Sessions(now), Lifetime: lifetime, Codec: scs.GobCodec{}, HashTokenInStore: true}
	return &Sessions{store: s, m: m, tries: NewLimit(2, 10), secure: strings.HasPrefix(s.Config.BaseURL, "https:")}
}

// Middleware marks a request with the person whose session it carries. A session whose
// account was disabled or got another password is no session.
func (s *Sessions) Middleware() echo.MiddlewareFunc {
	return func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			c.Response().Header().Add(echo.HeaderVary, "Cookie")
			cookie, err := c.Cookie(sessionCookie)
			if err != nil || cookie.Value == "" {
				return next(c)
			}
			ctx, err := s.m.Load(c.Request().Context(), cookie.Value)
			if err != nil {
				return err
			}
			id := s.m.GetInt64(ctx, accountKey)
			if id == 0 {
				return next(c)
			}
			by, ok, err := s.store.SignedIn(ctx, shop.AccountID(id), s.m.GetString(ctx, stampKey))
			if err != nil {
				return err
			}
			if ok {
				SetActor(c, by)
			}
			return next(c)
		}
	}
}

// SignIn opens a session for a login and password and returns its cookie. Too many
// tries at one login are refused for a while, whatever the password.
func (s *Sessions) SignIn(ctx context.Context, login, password string) (*shop.Account, *http.Cookie, error) {
	if !s.tries.Allow(strings.ToLower(strings.TrimSpace(login))) {
		return nil, nil, errTooMany.Saying("Too many tries for this login. Wait a minute, then try again.")
	}
	a, stamp, err := s.store.CheckPassword(ctx, login, password)
	if err != nil {
		return nil, nil, err
	}
	// A fresh session each time: a token somebody planted before is worth nothing.
	ctx, err = s.m.Load(ctx, "")
	if err != nil {
		return nil, nil, err
	}
	s.m.Put(ctx, accountKey, int64(a.ID))
	s.m.Put(ctx, stampKey, stamp)
	token, expiry, err := s.m.Commit(ctx)
	if err != nil {
		return nil, nil, err
	}
	cookie := s.cookie(sessionCookie, token)
	cookie.Expires = expiry.UTC()
	return a, cookie, nil
}

// SignOut ends the request's session and returns the cookie that takes its own away.
func (s *Sessions) SignOut(ctx context.Context, token string) (*http.Cookie, error) {
	if token != "" {
		sctx, err := s.m.Load(ctx, token)
		if err != nil {
			return nil, err
		}
		if err := s.m.Destroy(sctx); err != nil {
			return nil, err
		}
	}
	cookie := s.cookie(sessionCookie, "")
	cookie.MaxAge = -1
	return cookie, nil
}

// Token is the session token a request carries, or "".
func (s *Sessions) Token(c echo.Context) string {
	if cookie, err := c.Cookie(sessionCookie); err == nil {
		return cookie.Value
	}
	return ""
}

func (s *Sessions) cookie(name, value string) *http.Cookie {
	return &http.Cookie{Name: name, Value: value, Path: "/", HttpOnly: true, Secure: s.secure, SameSite: http.SameSiteLaxMode}
}

// Say leaves a sentence for the next page this person sees. It travels in a cookie of
// one minute, so that customers, who have no session, can be told too.
func (s *Sessions) Say(c echo.Context, text string) {
	cookie := s.cookie(saidCookie, base64.RawURLEncoding.EncodeToString([]byte(text)))
	cookie.MaxAge = 60
	c.SetCookie(cookie)
}

// Said takes the sentence that was left, once; "" when there is none.
func (s *Sessions) Said(c echo.Context) string {
	got, err := c.Cookie(saidCookie)
	if err != nil || got.Value == "" {
		return ""
	}
	cookie := s.cookie(saidCookie, "")
	cookie.MaxAge = -1
	c.SetCookie(cookie)
	text, err := base64.RawURLEncoding.DecodeString(got.Value)
	if err != nil || len(text) > 500 {
		return ""
	}
	return strings.ToValidUTF8(string(text), "")
}
