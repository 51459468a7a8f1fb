package web

import (
	"net/http"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/go-chi/chi/v5/middleware"

	"settlemark/db"
	"settlemark/handlers"
	"settlemark/handlers/api"
	"settlemark/internal/urls"
	"settlemark/static"
	"settlemark/web/respond"
)

const (
	get  = http.MethodGet
	post = http.MethodPost

	formLimit   = 256 << 10
	draftLimit  = 4 << 20  // a form writes some characters as three
	uploadLimit = 64 << 20 // above what is taken: a file that is too large is read, and refused with a sentence

	uploadTimeout = 5 * time.Minute
)

// route is one line of the table. What its reader must be allowed to do stands
// in actions.
type route struct {
	method, pattern string
	do              func(http.ResponseWriter, *http.Request) error
	open            bool  // reached without signing in
	locked          bool  // reached while the screen is locked
	batch           bool  // sent by a script, of which many may catch up at once
	lagging         bool  // may show the record as it was a moment ago, from a replica; nobody decides or signs on it
	public          bool  // open, and no session is read, so that caches may keep what it says
	limit           int64 // of the body; formLimit when 0
}

// Handler is the whole site.
func Handler(s *handlers.Screens, c Config) http.Handler {
	router := chi.NewRouter()
	router.Use(middleware.RequestID, throughProxies(c.Proxies), headers, logged(s.Log, c.Metrics, s.Now), recovered(s.Log))
	router.Get(urls.HealthPattern, respond.Page(s.Health))
	router.Get(urls.ReadyPattern, respond.Page(s.Ready))
	router.Get(urls.ClockPattern, respond.Page(s.Clock)) // no session: asking the time is no sign of anybody being there
	router.Get(urls.WorkerPattern, worker(c.NoWorker))
	router.Get(urls.ManifestPattern, manifest)
	router.Get(urls.AssetsPattern, static.Handler)
	router.Head(urls.AssetsPattern, static.Handler)
	machines := api.New(s.DB, s.Acts, s.Now)
	machines.Routes(router)
	pages := chi.Chain(s.Sessions.Load, s.Framed, sameSite)
	for _, line := range routes(s) {
		answer := line.handler(s)
		if !line.public {
			answer = pages.Handler(answer)
		}
		if line.batch {
			answer = machines.Batch(answer)
		}
		router.Method(line.method, line.pattern, answer)
	}
	missing := func(do http.HandlerFunc) http.HandlerFunc {
		return s.Sessions.Load(s.Framed(do)).ServeHTTP
	}
	router.NotFound(missing(respond.Missing))
	router.MethodNotAllowed(missing(respond.WrongMethod))
	return router
}

func (line route) handler(s *handlers.Screens) http.Handler {
	limit := line.limit
	if limit == 0 {
		limit = formLimit
	}
	do := line.do
	if line.lagging {
		do = func(w http.ResponseWriter, r *http.Request) error {
			return line.do(w, r.WithContext(db.Lagging(r.Context())))
		}
	}
	if line.open || line.public {
		return limited(limit, s.Now, respond.Page(do))
	}
	return signedIn(line.locked, limited(limit, s.Now, respond.Page(s.Guard(actions[line.method+line.pattern], do))))
}

// routes is the table: every page and every form.
func routes(s *handlers.Screens) []route {
	var all []route
	all = append(all, logRoutes(s)...)
	all = append(all, frameRoutes(s)...)
	all = append(all, identityRoutes(s)...)
	all = append(all, peopleRoutes(s)...)
	all = append(all, procedureRoutes(s)...)
	all = append(all, runRoutes(s)...)
	all = append(all, reviewRoutes(s)...)
	return all
}

// logRoutes: what anybody needs to check the log and certificates.
func logRoutes(s *handlers.Screens) []route {
	return []route{
		{method: get, pattern: urls.LogPolicyPattern, do: s.LogPolicy, public: true},
		{method: get, pattern: urls.LogCheckpointPattern, do: s.LogCheckpoint, public: true},
		{method: get, pattern: urls.LogStatusPattern, do: s.LogStatus, public: true},
		{method: get, pattern: urls.LogEpochPattern, do: s.LogCheckpoint, public: true},
		{method: get, pattern: urls.LogTilePattern, do: s.LogTile, public: true},
	}
}

// identityRoutes: signing in, and what a person proves who they are with.
func identityRoutes(s *handlers.Screens) []route {
	return []route{
		{method: get, pattern: urls.SignInPattern, do: s.ShowSignIn, open: true},
		{method: post, pattern: urls.SignInPattern, do: s.SignIn, open: true},
		{method: post, pattern: urls.SignOutPattern, do: s.SignOut, locked: true},
		{method: get, pattern: urls.SetupPattern, do: s.ShowSetup, open: true},
		{method: post, pattern: urls.SetupPattern, do: s.Setup, open: true},
		{method: get, pattern: urls.InvitePattern, do: s.ShowInvite, open: true},
		{method: post, pattern: urls.InvitePattern, do: s.UseInvite, open: true},
		{method: post, pattern: urls.PasskeySignInPattern, do: s.SignInByPasskey, open: true},
		{method: post, pattern: urls.ChallengePattern, do: s.Challenge, open: true},
		{method: get, pattern: urls.ProviderPattern, do: s.SignInAtProvider, open: true},
		{method: get, pattern: urls.ProviderAnswerPattern, do: s.ProviderAnswer, open: true},
		{method: post, pattern: urls.LockPattern, do: s.Lock, locked: true},
		{method: get, pattern: urls.UnlockPattern, do: s.ShowUnlock, locked: true},
		{method: post, pattern: urls.UnlockPattern, do: s.Unlock, locked: true},
		{method: get, pattern: urls.AccountPattern, do: s.Account},
		{method: get, pattern: urls.LinkBeginPattern, do: s.BeginLink},
		{method: get, pattern: urls.LinkPattern, do: s.ShowLink},
		{method: post, pattern: urls.LinkPattern, do: s.Link},
		{method: get, pattern: urls.UnlinkPattern, do: s.ShowUnlink},
		{method: post, pattern: urls.UnlinkPattern, do: s.Unlink},
		{method: get, pattern: urls.FactorsPattern, do: s.ShowFactors},
		{method: get, pattern: urls.AppPattern, do: s.ShowApp},
		{method: post, pattern: urls.AppPattern, do: s.AddApp},
		{method: get, pattern: urls.PasskeyPattern, do: s.ShowAddPasskey},
		{method: post, pattern: urls.PasskeyPattern, do: s.AddPasskey},
		{method: get, pattern: urls.RemoveFactorPattern, do: s.ShowRemoveFactor},
		{method: post, pattern: urls.RemoveFactorPattern, do: s.RemoveFactor},
		{method: get, pattern: urls.RecoveryPattern, do: s.ShowRecovery},
		{method: post, pattern: urls.RecoveryPattern, do: s.NewRecovery},
		{method: get, pattern: urls.TellPattern, do: s.ShowTell},
		{method: post, pattern: urls.TellMailPattern, do: s.WishMail},
		{method: post, pattern: urls.TellMailTryPattern, do: s.TryMailAddress},
		{method: post, pattern: urls.TellHookTryPattern, do: s.TryReceiver},
		{method: get, pattern: urls.PasswordPattern, do: s.ShowPassword},
		{method: post, pattern: urls.PasswordPattern, do: s.ChangePassword},
		{method: post, pattern: urls.ReadingSettingsPattern, do: s.ChooseReading},
		{method: post, pattern: urls.SignOutEverywherePattern, do: s.SignOutEverywhere},
		{method: post, pattern: urls.EndSessionPattern, do: s.EndSession},
	}
}

// frameRoutes: the start page and the registers.
func frameRoutes(s *handlers.Screens) []route {
	return []route{
		{method: get, pattern: urls.HomePattern, do: s.Home},
		{method: post, pattern: urls.LightPattern, do: s.SwitchLight, open: true},
		{method: get, pattern: urls.OfflinePattern, do: s.ShowOffline, open: true},
		{method: get, pattern: urls.TrustPattern, do: s.ShowTrust, open: true},
		{method: get, pattern: urls.TrustCRTPattern, do: s.AuthorityCRT, open: true},
		{method: get, pattern: urls.TrustPEMPattern, do: s.AuthorityPEM, open: true},

		{method: get, pattern: urls.UnitsPattern, do: s.ShowUnits},
		{method: post, pattern: urls.UnitsPattern, do: s.AddUnit},
		{method: get, pattern: urls.UnitPattern, do: s.ShowUnit},
		{method: post, pattern: urls.UnitPattern, do: s.ChangeUnit},
		{method: get, pattern: urls.UnitEventsPattern, do: s.ShowUnitEvent},
		{method: post, pattern: urls.UnitEventsPattern, do: s.RecordUnitEvent},
		{method: get, pattern: urls.FluidsPattern, do: s.ShowFluids},
		{method: get, pattern: urls.TagsPattern, do: s.ShowTags},
		{method: post, pattern: urls.FluidsPattern, do: s.SaveFluid},
		{method: get, pattern: urls.LinesPattern, do: s.ShowLines},
		{method: post, pattern: urls.LinesPattern, do: s.SaveLine},
		{method: get, pattern: urls.BenchesPattern, do: s.ShowBenches},
		{method: post, pattern: urls.BenchesPattern, do: s.SaveBench},
		{method: get, pattern: urls.InstrumentsPattern, do: s.ShowInstruments},
		{method: post, pattern: urls.InstrumentsPattern, do: s.SaveInstrument},
		{method: get, pattern: urls.GatewaysPattern, do: s.ShowGateways},
		{method: post, pattern: urls.GatewaysPattern, do: s.SaveGateway},
		{method: get, pattern: urls.GatewayPattern, do: s.ShowGateway},
		{method: post, pattern: urls.GatewayPattern, do: s.MakeToken},
		{method: post, pattern: urls.GatewayTokenPattern, do: s.EndToken},
		{method: get, pattern: urls.ProposalsPattern, do: s.ShowProposals},
		{method: post, pattern: urls.ProposalsPattern, do: s.Propose},
		{method: get, pattern: urls.SitesPattern, do: s.ShowSites},
		{method: post, pattern: urls.SitesPattern, do: s.SaveSite},
		{method: get, pattern: urls.HallScreensPattern, do: s.ShowHallScreens},
		{method: post, pattern: urls.HallScreensPattern, do: s.MakeHallScreen},
		{method: post, pattern: urls.HallScreenEndPattern, do: s.EndHallScreen},
	}
}

// peopleRoutes: people, for administrators.
func peopleRoutes(s *handlers.Screens) []route {
	return []route{
		{method: get, pattern: urls.PeoplePattern, do: s.ShowPeople},
		{method: post, pattern: urls.PeoplePattern, do: s.AddPerson},
		{method: get, pattern: urls.PersonPattern, do: s.ShowPerson},
		{method: post, pattern: urls.PersonRolesPattern, do: s.SetRoles},
		{method: get, pattern: urls.PersonInvitePattern, do: s.ShowInvitePerson},
		{method: post, pattern: urls.PersonInvitePattern, do: s.InvitePerson},
		{method: get, pattern: urls.PersonDisablePattern, do: s.ShowDisablePerson},
		{method: post, pattern: urls.PersonDisablePattern, do: s.DisablePerson},
		{method: post, pattern: urls.PersonSignOutPattern, do: s.SignPersonOut},
		{method: get, pattern: urls.PersonSamePattern, do: s.ShowJoinPersons},
		{method: post, pattern: urls.PersonSamePattern, do: s.JoinPersons},
	}
}

// procedureRoutes: procedures, their revisions and drafts.
func procedureRoutes(s *handlers.Screens) []route {
	return []route{
		{method: get, pattern: urls.ProceduresPattern, do: s.ShowProcedures},
		{method: get, pattern: urls.HistoryPattern, do: s.ShowHistory},
		{method: get, pattern: urls.ComparePattern, do: s.CompareRevisions, lagging: true},
		{method: get, pattern: urls.RetirePattern, do: s.ShowRetireProcedure},
		{method: post, pattern: urls.RetirePattern, do: s.RetireProcedure},
		{method: get, pattern: urls.ProcedurePattern, do: s.ShowProcedure},
		{method: post, pattern: urls.ApprovePattern, do: s.ApproveProcedure},
		{method: get, pattern: urls.RejectPattern, do: s.ShowRejectProcedure},
		{method: post, pattern: urls.RejectPattern, do: s.RejectProcedure},
		{method: post, pattern: urls.DraftsPattern, do: s.StartDraft},
		{method: get, pattern: urls.DraftPattern, do: s.ShowDraft},
		{method: get, pattern: urls.DraftYAMLPattern, do: s.ShowDraftYAML},
		{method: post, pattern: urls.DraftYAMLPattern, do: s.SaveDraftYAML, limit: draftLimit},
		{method: get, pattern: urls.DraftPartPattern, do: s.ShowDraftPart},
		{method: post, pattern: urls.DraftPartPattern, do: s.SaveDraftPart},
		{method: post, pattern: urls.DraftItemsPattern, do: s.ChangeDraftItems},
		{method: get, pattern: urls.DraftPreviewPattern, do: s.ShowDraftPreview},
		{method: get, pattern: urls.DraftSubmitPattern, do: s.ShowDraftSubmit},
		{method: post, pattern: urls.DraftSubmitPattern, do: s.SubmitDraft},
		{method: post, pattern: urls.DraftDiscardPattern, do: s.DiscardDraft},
	}
}

// runRoutes: the engineer's pages.
func runRoutes(s *handlers.Screens) []route {
	return []route{
		{method: get, pattern: urls.RunsPattern, do: s.ShowRuns},
		{method: post, pattern: urls.RunsPattern, do: s.StartRun},
		{method: get, pattern: urls.RunStartPattern, do: s.ShowRunStart},
		{method: get, pattern: urls.RunPattern, do: s.ShowRun},
		{method: get, pattern: urls.RunEventsPattern, do: s.RunEvents, locked: true},
		{method: post, pattern: urls.EntriesPattern, do: s.RecordEntry},
		{method: post, pattern: urls.PencilPattern, do: s.RecordPencil, batch: true},
		{method: post, pattern: urls.PhotosPattern, do: s.AddPhoto, limit: uploadLimit},
		{method: get, pattern: urls.PhotoPattern, do: s.ShowPhoto},
		{method: post, pattern: urls.PhotoBytesPattern, do: s.StorePhoto, limit: uploadLimit},
		{method: get, pattern: urls.ReadingPattern, do: s.ShowReading},
		{method: get, pattern: urls.FaultPattern, do: s.ShowFault},
		{method: get, pattern: urls.MorePattern, do: s.ShowMore},
		{method: get, pattern: urls.CupPattern, do: s.ShowCup},
		{method: get, pattern: urls.ImportPattern, do: s.ShowImport},
		{method: post, pattern: urls.ImportPattern, do: s.LookIntoFile, limit: uploadLimit},
		{method: post, pattern: urls.ImportReadPattern, do: s.ImportFile, limit: uploadLimit},
		{method: get, pattern: urls.EstimatesPattern, do: s.ShowEstimates},
		{method: get, pattern: urls.CorrectionPattern, do: s.ShowCorrection},
		{method: get, pattern: urls.PenPattern, do: s.ShowPen},
		{method: post, pattern: urls.PenPattern, do: s.TakePen},
		{method: get, pattern: urls.SubmitPattern, do: s.ShowSubmit},
		{method: post, pattern: urls.SubmitPattern, do: s.SubmitRun},
		{method: get, pattern: urls.AbandonPattern, do: s.ShowAbandon},
		{method: post, pattern: urls.AbandonPattern, do: s.AbandonRun},
		{method: get, pattern: urls.LogbookPattern, do: s.ShowLogbook},
	}
}

// reviewRoutes: the board, review and countersignature, certificates.
func reviewRoutes(s *handlers.Screens) []route {
	return []route{
		{method: get, pattern: urls.BoardPattern, do: s.ShowBoard},
		{method: get, pattern: urls.BoardEventsPattern, do: s.BoardEvents, locked: true},
		{method: get, pattern: urls.HallPattern, do: s.ShowHall, open: true},
		{method: get, pattern: urls.HallOpenPattern, do: s.OpenHall, open: true},
		{method: get, pattern: urls.HallEventsPattern, do: s.HallEvents, open: true},
		{method: get, pattern: urls.ReviewPattern, do: s.ShowReview},
		{method: post, pattern: urls.SamplePattern, do: s.ReadSample},
		{method: post, pattern: urls.RulingPattern, do: s.RuleOnEntry},
		{method: post, pattern: urls.ReturnPattern, do: s.ReturnRun},
		{method: post, pattern: urls.CountersignPattern, do: s.CountersignRun},
		{method: get, pattern: urls.LogbookJSONPattern, do: s.LogbookJSON},
		{method: get, pattern: urls.LogbookCSVPattern, do: s.LogbookCSV},

		{method: get, pattern: urls.CertificatesPattern, do: s.ShowCertificates, lagging: true},
		{method: get, pattern: urls.CertificateZIPPattern, do: s.CertificateZIP, lagging: true},
		{method: get, pattern: urls.CertificatePattern, do: s.ShowCertificate},
		{method: get, pattern: urls.CertificatePDFPattern, do: s.CertificatePDF},
		{method: get, pattern: urls.VerifyPattern, do: s.Verify, open: true},
		{method: post, pattern: urls.VerifyPattern, do: s.VerifyFile, open: true, limit: uploadLimit},
		{method: get, pattern: urls.TrailProofPattern, do: s.TrailProof},
		{method: get, pattern: urls.ClausesPattern, do: s.ShowClauses},
		{method: get, pattern: urls.TrailPattern, do: s.ShowTrail, lagging: true},
		{method: get, pattern: urls.SetAsidePattern, do: s.ShowSetAside},
		{method: get, pattern: urls.SetAsideRecordPattern, do: s.SetAsideRecord},
		{method: get, pattern: urls.TrailCSVPattern, do: s.TrailCSV, lagging: true},
		{method: get, pattern: urls.TrailJSONPattern, do: s.TrailJSON, lagging: true},
		{method: get, pattern: urls.WithdrawPattern, do: s.ShowWithdraw},
		{method: post, pattern: urls.WithdrawPattern, do: s.Withdraw},
		{method: get, pattern: urls.RecallPattern, do: s.ShowRecall},
		{method: get, pattern: urls.RecallCSVPattern, do: s.RecallCSV, lagging: true},
		{method: post, pattern: urls.RecallPattern, do: s.Recall},
	}
}
