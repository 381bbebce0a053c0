package main

import (
	"context"
	"log/slog"
	"net/url"
	"strings"
	"time"

	"flitchbook/api/checkout"
	"flitchbook/api/checkout/stripe"
	"flitchbook/api/store"
)

// checkoutConfig is how money comes in online, on the payment provider's own page. With
// nothing set it comes in at the counter and by transfer alone.
type checkoutConfig struct {
	CheckoutKeyFile    string `help:"File with the secret key of the shop's account at the payment provider, readable by nobody else; or the key itself in the variable FLITCHBOOK_CHECKOUT_KEY. None: nobody pays online." placeholder:"FILE"`
	CheckoutNoticeFile string `help:"File with the secret that the provider signs its notices with, readable by nobody else; or the secret itself in FLITCHBOOK_CHECKOUT_NOTICE_SECRET. The provider sends them to /checkout/notices." placeholder:"FILE"`
	CheckoutCurrency   string `default:"usd" help:"Currency of the shop's prices, in three letters."`
	CheckoutPages      string `default:"https://checkout.stripe.com" help:"Where the provider shows its pages: another address when the shop has a name of its own there." placeholder:"URL"`
	CheckoutAPI        string `name:"checkout-api" help:"Another address of the provider's interface, for trying things out on this machine." placeholder:"URL"`
}

// secrets reads the two secrets, from their files or their variables.
func (c checkoutConfig) secrets(env map[string]string) (key, notice string, err error) {
	read := func(what, file, variable string) (string, error) {
		value := env[variable]
		switch {
		case file != "" && value != "":
			return "", badSetting("the %s is given twice, by a file and by the variable %s: take one away", what, variable)
		case file == "":
			return strings.TrimSpace(value), nil
		}
		b, err := readable(what, file)
		return strings.TrimSpace(string(b)), err
	}
	if key, err = read("payment provider's key", c.CheckoutKeyFile, "FLITCHBOOK_CHECKOUT_KEY"); err != nil {
		return "", "", err
	}
	notice, err = read("secret of the payment provider's notices", c.CheckoutNoticeFile, "FLITCHBOOK_CHECKOUT_NOTICE_SECRET")
	return key, notice, err
}

// check refuses settings that contradict one another, or with which money could come in and
// nobody would be told. It returns the secrets.
func (c checkoutConfig) check(shop shopConfig, env map[string]string) (key, notice string, err error) {
	if key, notice, err = c.secrets(env); err != nil {
		return "", "", err
	}
	base, err := shop.base()
	if err != nil {
		return "", "", err
	}
	api, aerr := url.Parse(c.CheckoutAPI)
	pages, perr := url.Parse(c.CheckoutPages)
	trial := c.CheckoutAPI != ""
	switch {
	case key == "" && notice == "" && !trial:
		return "", "", nil
	case key == "" && notice == "":
		return "", "", badSetting("an address of the payment provider is named, but no key: give --checkout-key-file")
	case key == "":
		return "", "", badSetting("the payment provider's notices have a secret, but there is no key to ask it for a page: give --checkout-key-file")
	case notice == "":
		return "", "", badSetting("the payment provider's key is named, but not the secret its notices are signed with: people could pay and their seats would not be theirs; give --checkout-notice-file")
	case !strings.HasPrefix(key, "sk_") && !strings.HasPrefix(key, "rk_"):
		return "", "", badSetting("the payment provider's key does not begin with sk_ or rk_: it is another word than the secret key of the account")
	case !strings.HasPrefix(notice, "whsec_"):
		return "", "", badSetting("the secret of the payment provider's notices does not begin with whsec_: it is another word than the endpoint's signing secret")
	case len(c.CheckoutCurrency) != 3:
		return "", "", badSetting("the currency %q is not three letters, such as usd", c.CheckoutCurrency)
	case perr != nil || pages.Host == "" || pages.Scheme != "https" && !trial || pages.Path != "" || pages.RawQuery != "":
		return "", "", badSetting("the provider's pages, %q, must be an https address without a path", c.CheckoutPages)
	case trial && (aerr != nil || api.Host == "" || !isLoopback(api.Hostname())):
		return "", "", badSetting("another address of the payment provider, %q, may only be one on this machine: the key would go there", c.CheckoutAPI)
	case trial && (strings.HasPrefix(key, "sk_live") || strings.HasPrefix(key, "rk_live")):
		return "", "", badSetting("a key for real money is not for trying things out: use a test key with --checkout-api")
	case base.Scheme != "https" && !isLoopback(base.Hostname()):
		return "", "", badSetting("paying online needs an https base URL, not %s: people come back to it with a secret link", shop.BaseURL)
	}
	return key, notice, nil
}

// provider is who takes money online, or nil.
func (c checkoutConfig) provider(shop shopConfig, env map[string]string, log *slog.Logger) (checkout.Provider, error) {
	key, notice, err := c.check(shop, env)
	if err != nil || key == "" {
		return nil, err
	}
	return stripe.New(stripe.Config{Key: key, WebhookSecret: notice, Currency: strings.ToLower(c.CheckoutCurrency), API: c.CheckoutAPI, Pages: c.CheckoutPages, Log: log}), nil
}

// withProvider takes money online; nil takes none.
func withProvider(p checkout.Provider) option { return func(o *webOptions) { o.provider = p } }

// desk brings the records and the provider together, or is nil.
func (o webOptions) desk(st *store.Store, log *slog.Logger) *checkout.Desk {
	if o.provider == nil {
		return nil
	}
	return &checkout.Desk{Store: st, Provider: o.provider, Log: log}
}

// workDesk does what waits for the payment provider every so often, until ctx ends.
func workDesk(ctx context.Context, d *checkout.Desk, every time.Duration) {
	t := time.NewTicker(every)
	defer t.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-t.C:
		}
		if err := d.Work(ctx); err != nil && ctx.Err() == nil {
			d.Store.LogFault("the payment provider", err)
		}
	}
}
