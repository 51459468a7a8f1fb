# A convenience: `go run ./cmd/settlemark` and `go test ./...` do without it.
.DEFAULT_GOAL := help
.PHONY: run test lint vulnerabilities generate bench lighthouse screens promises faults release help
# Without the stamp a build works where git distrusts the owner of the folder.
export GOFLAGS := -buildvcs=false $(GOFLAGS)

run: ## Start Settlemark with its own Postgres; installs Postgres when it may
	@.ci/install postgres
	@go build -o bin/settlemark ./cmd/settlemark && exec bin/settlemark

test: ## Install what the tests need, then run every check and every test
	@.ci/install postgres browser pdf python && .ci/generated && $(MAKE) --no-print-directory lint
	@go test -count=1 -p 2 -timeout 30m ./...

lint: ## Vet and lint
	@go vet ./... && go tool -modfile=.ci/lint.mod golangci-lint run

vulnerabilities: ## Hold what is built against the Go vulnerability database, also without the internet
	@.ci/vulnerabilities

generate: ## Write the generated files anew
	@go generate ./...

bench: ## Run the benchmarks as a table, each beside its yardstick of the same run
	@.ci/bench ./internal/measure ./internal/rules ./internal/certificate ./internal/act ./web

lighthouse: ## Score the run page and the board with Lighthouse; needs Node and npm
	@.ci/install postgres browser && .ci/lighthouse

screens: ## Hold every screen against every gate in every size and light, and leave its picture in e2e/out
	@.ci/install browser && SETTLEMARK_TRIALS=full go test -count=1 -timeout 30m -run 'TestScreens|TestCertificatePages' ./e2e

promises: ## Run the test of every promise of the README and write its figures there
	@.ci/install postgres browser pdf python && SETTLEMARK_TRIALS=full .ci/figures P

faults: ## Break what the program stands on, every way and often, and write the figures into the README
	@.ci/install postgres browser pdf python strace && SETTLEMARK_TRIALS=full .ci/figures F

release: ## Build what is given out into dist: the program, what is in it (SBOM), licences, sums
	@.ci/release dist

help: ## List these targets
	@awk -F ':.*## ' '/^[a-z]+:.*## / { printf "make %-15s %s\n", $$1, $$2 }' $(MAKEFILE_LIST)
