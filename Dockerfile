FROM golang:1.26-bookworm AS build
WORKDIR /src
COPY go.mod go.sum ./
RUN go mod download
COPY . .
RUN CGO_ENABLED=0 go build -buildvcs=false -trimpath -ldflags=-s -o /settlemark ./cmd/settlemark

FROM debian:bookworm-slim
COPY --from=build /etc/ssl/certs/ca-certificates.crt /etc/ssl/certs/
COPY --from=build /settlemark /usr/local/bin/settlemark
# The programs that back up, restore and drill. No cluster of Debian's own is made.
RUN apt-get update \
 && apt-get install -y --no-install-recommends postgresql-common \
 && sed -i 's/^#\?create_main_cluster.*/create_main_cluster = false/' /etc/postgresql-common/createcluster.conf \
 && apt-get install -y --no-install-recommends postgresql-15 \
 && rm -rf /var/lib/apt/lists/*
RUN useradd --system --uid 10001 --no-create-home settlemark \
 && install -d -o settlemark -g settlemark -m 700 /var/lib/settlemark
USER settlemark
ENV SETTLEMARK_DATA=/var/lib/settlemark SETTLEMARK_LISTEN=0.0.0.0:8080
VOLUME /var/lib/settlemark
EXPOSE 8080 8081
HEALTHCHECK --interval=10s --timeout=5s --start-period=60s --retries=3 CMD ["settlemark", "healthz"]
ENTRYPOINT ["settlemark"]
