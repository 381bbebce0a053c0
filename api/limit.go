package api

import (
	"crypto/sha256"
	"net/http"
	"time"

	"github.com/labstack/echo/v4"
	"github.com/labstack/echo/v4/middleware"
	"golang.org/x/time/rate"

	"flitchbook/api/shop"
)

var errTooMany = &shop.Error{Kind: shop.TooMany, Code: "too_many", Text: "That was a lot in a short time. Wait a minute, then try again. Nothing was changed."}

// Limit is how often something may be tried by one key: at once up to a burst, then so
// many a minute. It is kept in memory; several instances of the program each allow the
// whole of it.
type Limit struct {
	m *middleware.RateLimiterMemoryStore
}

// NewLimit allows burst tries at once and perMinute after that.
func NewLimit(perMinute, burst int) *Limit {
	// A key is forgotten when its burst would be whole again.
	whole := time.Duration(burst) * time.Minute / time.Duration(max(perMinute, 1))
	return &Limit{middleware.NewRateLimiterMemoryStoreWithConfig(middleware.RateLimiterMemoryStoreConfig{
		Rate: rate.Limit(float64(perMinute) / 60), Burst: burst, ExpiresIn: max(whole, 3*time.Minute),
	})}
}

// Allow counts one try and says whether it may go ahead. Long keys cost no more memory
// than short ones.
func (l *Limit) Allow(key string) bool {
	if len(key) > 32 {
		h := sha256.Sum256([]byte(key))
		key = string(h[:])
	}
	ok, _ := l.m.Allow(key) // the memory store has no errors
	return ok
}

// Posts limits what people who are not signed in send from one address, and anybody's
// tries to sign in by a second, stricter limit. It stands after the session middleware.
func Posts(public, signIn *Limit) echo.MiddlewareFunc {
	each := func(l *Limit, skip func(echo.Context) bool) echo.MiddlewareFunc {
		return middleware.RateLimiterWithConfig(middleware.RateLimiterConfig{
			Skipper: skip, Store: l.m,
			IdentifierExtractor: func(c echo.Context) (string, error) { return c.RealIP(), nil },
			DenyHandler: func(c echo.Context, _ string, _ error) error {
				c.Response().Header().Set(echo.HeaderRetryAfter, "60")
				return errTooMany
			},
		})
	}
	strict := each(signIn, func(c echo.Context) bool { return !isSignIn(c) })
	wide := each(public, func(c echo.Context) bool {
		return isSignIn(c) || safe(c.Request().Method) || Actor(c).IsStaff()
	})
	return func(next echo.HandlerFunc) echo.HandlerFunc { return strict(wide(next)) }
}

func isSignIn(c echo.Context) bool {
	return c.Request().Method == http.MethodPost && (c.Path() == "/login" || c.Path() == "/api/v1/session")
}

func safe(method string) bool {
	return method == http.MethodGet || method == http.MethodHead || method == http.MethodOptions
}
