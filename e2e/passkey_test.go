package e2e_test

import (
	"context"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/webauthn"
	"github.com/chromedp/chromedp"
)

// device is an authenticator in the browser: it makes passkeys and answers with
// them, after it verified its holder or not.
type device struct {
	b  *tab
	id webauthn.AuthenticatorID
}

// takesDevice gives the tab a device, and the name of the machine in place of its
// bare address: browsers make no passkeys for an address.
func (b *tab) takesDevice() device {
	b.t.Helper()
	b.base = strings.Replace(b.base, "127.0.0.1", "localhost", 1)
	d := device{b: b}
	b.must(chromedp.Do(b.ctx, chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		if _, err := chromedp.Call(ctx, webauthn.Enable, webauthn.EnableParams{}); err != nil {
			return err
		}
		made, err := chromedp.Call(ctx, webauthn.AddVirtualAuthenticator, webauthn.AddVirtualAuthenticatorParams{
			Options: &webauthn.VirtualAuthenticatorOptions{
				Protocol: webauthn.AuthenticatorProtocolCtap2, Transport: webauthn.AuthenticatorTransportInternal,
				HasResidentKey: true, HasUserVerification: true, IsUserVerified: true, AutomaticPresenceSimulation: true,
			},
		})
		d.id = made.AuthenticatorID
		return err
	})))
	return d
}

// knowsHolder says whether the finger on the device is the right one.
func (d device) knowsHolder(right bool) {
	d.b.t.Helper()
	d.b.must(chromedp.Do(d.b.ctx, chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, webauthn.SetUserVerified, webauthn.SetUserVerifiedParams{AuthenticatorID: d.id, IsUserVerified: right})
		return err
	})))
}

// lies makes the device answer without having verified its holder, though the
// page asked for it, so that it is the server that must refuse.
func (d device) lies(yes bool) {
	d.b.t.Helper()
	d.b.must(chromedp.Do(d.b.ctx, chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, webauthn.SetResponseOverrideBits, webauthn.SetResponseOverrideBitsParams{AuthenticatorID: d.id, IsBadUV: &yes})
		return err
	})))
}

// TestPasskey: somebody who has a passkey only signs in and signs with it, in a
// real browser.
func TestPasskey(t *testing.T) {
	a := startApp(t)
	admin := takeTablet(t, a, true)
	admin.becomesAdministrator(a.said(t, `one-time code (\S+)`), "Ada Lintott", "ada")
	engineer := takeTablet(t, a, true)
	engineer.accepts(admin.invites("Nela Voss", "nela", "Engineer"), "nela")
	engineer.drafts("short-hold", "Return to service with a short hold", shortHold)
	code := admin.invites("Quill Addo", "quill", "Quality")

	b := takeTablet(t, a, true)
	d := b.takesDevice()
	t.Run("a passkey is made, with recovery codes for the day it is lost", func(t *testing.T) {
		b.open("/invite")
		b.types("One-time code", code)
		b.types("Password", password)
		b.taps("Set password and sign in")
		b.taps("Add a passkey")
		b.types("What you call it", "My tablet")
		b.types("Your password, again", password)
		d.knowsHolder(false)
		b.touches("Make the passkey")
		b.sees("The device gave no answer")
		d.knowsHolder(true)
		b.taps("Make the passkey")
		b.sees("Your recovery codes", "shown only now")
		b.taps("I have them, go on")
		b.open("/account/second-factors")
		b.sees("My tablet", "made for localhost", "10 codes left")
	})
	t.Run("signs in, if the device knows its holder", func(t *testing.T) {
		b.open("/account")
		b.taps("Sign out everywhere")
		b.open("/sign-in")
		d.knowsHolder(false)
		b.touches("Sign in with a passkey")
		b.sees("The device gave no answer")
		d.knowsHolder(true)
		d.lies(true)
		b.taps("Sign in with a passkey")
		b.sees("did not answer as it should")
		d.lies(false)
		b.taps("Sign in with a passkey")
		b.open("/account")
		b.sees("Quill Addo")
	})
	t.Run("signs an approval, if the device knows its holder", func(t *testing.T) {
		b.open("/procedures")
		b.taps("Return to service with a short hold")
		d.knowsHolder(false)
		b.touches("Sign with your passkey")
		b.sees("The device gave no answer", "Not approved")
		d.knowsHolder(true)
		d.lies(true)
		b.taps("Sign with your passkey")
		b.sees("The passkey did not prove that it is you. Nothing was done", "Not approved")
		d.lies(false)
		b.taps("Sign with your passkey")
		b.doesNotSee("Approve this revision", "Not approved")
		b.sees("Quill Addo")
	})
	t.Run("signs what is typed with what is shown", func(t *testing.T) {
		b.taps("History")
		b.taps("Retire this procedure")
		b.types("Reason", "  The bench is gone.\nSee the plan.  ")
		b.taps("Sign with your passkey")
		b.sees("Retired", "The bench is gone.")
	})
}
