package main

import (
	"context"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/labstack/echo/v4"
	"github.com/labstack/echo/v4/middleware"

	"flitchbook/api"
	"flitchbook/api/checkout"
	"flitchbook/api/store"
	"flitchbook/frontend"
)

// An option changes the pages before they are served.
type option func(*webOptions)

type webOptions struct {
	demo     *frontend.Demo
	provider checkout.Provider
}

// asDemo shows the demo bar and the page that moves the clock.
func asDemo(d *frontend.Demo) option { return func(o *webOptions) { o.demo = d } }

func optionsOf(more []option) webOptions {
	var o webOptions
	for _, m := range more {
		m(&o)
	}
	return o
}

// newWeb is the pages and the API with everything that stands before them.
func newWeb(c serveConfig, st *store.Store, wall func() time.Time, log *slog.Logger, more ...option) (*echo.Echo, error) {
	o := optionsOf(more)
	e := echo.New()
	e.HideBanner, e.HidePort = true, true
	e.Logger.SetOutput(discard{}) // nothing is logged but through log
	ip, err := visitorAddress(c)
	if err != nil {
		return nil, err
	}
	e.IPExtractor = ip
	sameSite, err := api.SameSite(st.Config.BaseURL)
	if err != nil {
		return nil, badSetting("the base URL: %v", err)
	}
	sessions := api.NewSessions(st, wall, c.SessionTime)
	site, err := frontend.NewSite(st, frontend.Config{Demo: o.demo != nil, Sessions: sessions})
	if err != nil {
		return nil, err
	}
	desk := o.desk(st, log)
	site.Demo, site.Checkout = o.demo, desk
	var pages []string
	if desk != nil {
		pages = append(pages, desk.Provider.Pages())
	}
	e.HTTPErrorHandler = fail(site, st)
	e.Use(
		requestID,
		logRequests(log),
		middleware.RecoverWithConfig(middleware.RecoverConfig{StackSize: 8 << 10, DisablePrintStack: true,
			LogErrorFunc: func(c echo.Context, err error, stack []byte) error {
				log.Error("panic", "route", c.Path(), "stack", string(stack))
				return err
			}}),
		api.Headers(strings.HasPrefix(st.Config.BaseURL, "https:"), pages...),
		sameSite,
		middleware.BodyLimit(strconv.Itoa(c.BodyLimit)+"M"),
		timeLimit(c.RequestTime),
		sessions.Middleware(),
		api.Posts(api.NewLimit(c.PostsMinute, c.PostsMinute), api.NewLimit(c.SignInMinute, c.SignInMinute)),
	)
	e.GET("/healthz", func(c echo.Context) error {
		if err := st.Ping(c.Request().Context()); err != nil {
			return err
		}
		c.Response().Header().Set(echo.HeaderCacheControl, "no-store")
		return c.String(http.StatusOK, "ok\n")
	})
	api.New(e, st, sessions).Checkout = desk
	site.Routes(e)
	return e, nil
}

// visitorAddress is where a request comes from: the other end of the connection, or
// what a trusted proxy says of it. Anybody else's word is not taken.
func visitorAddress(c serveConfig) (echo.IPExtractor, error) {
	nets, err := c.proxies()
	if err != nil || len(nets) == 0 {
		return echo.ExtractIPDirect(), err
	}
	trust := []echo.TrustOption{echo.TrustLoopback(false), echo.TrustLinkLocal(false), echo.TrustPrivateNet(false)}
	for _, n := range nets {
		_, ipnet, err := net.ParseCIDR(n.String())
		if err != nil {
			return nil, err
		}
		trust = append(trust, echo.TrustIPRange(ipnet))
	}
	return echo.ExtractIPFromXFFHeader(trust...), nil
}

// requestID numbers a request. A number the visitor brings is not taken: it would be
// written into our log.
func requestID(next echo.HandlerFunc) echo.HandlerFunc {
	numbered := middleware.RequestID()(next)
	return func(c echo.Context) error {
		c.Request().Header.Del(echo.HeaderXRequestID)
		return numbered(c)
	}
}

// logRequests writes one line a request with its route's pattern: the path itself may
// hold a secret link, the query and the address are somebody's own.
func logRequests(log *slog.Logger) echo.MiddlewareFunc {
	return middleware.RequestLoggerWithConfig(middleware.RequestLoggerConfig{
		// The visitor's own context: the one that a time limit bounds has ended by then.
		BeforeNextFunc: func(c echo.Context) { c.Set("visitor", c.Request().Context()) },
		LogMethod:      true, LogRoutePath: true, LogStatus: true, LogLatency: true, LogRequestID: true, HandleError: true,
		LogValuesFunc: func(c echo.Context, v middleware.RequestLoggerValues) error {
			level := slog.LevelInfo
			switch {
			case gone(c): // nobody sees the answer
			case v.Status >= http.StatusInternalServerError:
				level = slog.LevelError
			case v.RoutePath == "/healthz" || strings.HasPrefix(v.RoutePath, "/static/"):
				level = slog.LevelDebug
			}
			log.LogAttrs(c.Request().Context(), level, "request",
				slog.String("method", v.Method), slog.String("route", v.RoutePath), slog.Int("status", v.Status),
				slog.Duration("took", v.Latency), slog.String("id", v.RequestID))
			return nil
		},
	})
}

// gone says whether the visitor waits no longer.
func gone(c echo.Context) bool {
	ctx, ok := c.Get("visitor").(context.Context)
	return ok && errors.Is(ctx.Err(), context.Canceled)
}

func timeLimit(d time.Duration) echo.MiddlewareFunc {
	return func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			ctx, cancel := context.WithTimeout(c.Request().Context(), d)
			defer cancel()
			c.SetRequest(c.Request().WithContext(ctx))
			return next(c)
		}
	}
}

// fail answers what went wrong: to programs with a problem document, to people with a
// page. What was already answered stays.
func fail(site *frontend.Site, st *store.Store) echo.HTTPErrorHandler {
	return func(err error, c echo.Context) {
		if c.Response().Committed {
			return
		}
		var answer error
		switch {
		case strings.HasPrefix(c.Request().URL.Path, "/api/"):
			if api.Status(err) >= http.StatusInternalServerError {
				st.LogFault(c.Path(), err)
			}
			answer = api.WriteProblem(c, err)
		default:
			answer = site.Fail(c, err)
		}
		if answer != nil {
			st.LogFault(c.Path(), answer)
		}
	}
}

type discard struct{}

func (discard) Write(b []byte) (int, error) { return len(b), nil }
