FROM python:3.12-slim-bookworm
RUN apt-get update \
 && apt-get install -y --no-install-recommends libpangoft2-1.0-0 libharfbuzz-subset0 \
 && rm -rf /var/lib/apt/lists/* \
 && useradd --system --home-dir /app --uid 1000 desk \
 && mkdir -p /var/knotbook && chown desk /var/knotbook
WORKDIR /app
COPY requirements.txt .
RUN pip install --no-cache-dir --require-hashes --no-deps --only-binary :all: -r requirements.txt
COPY . .
USER desk
ENV KNOTBOOK_VAR=/var/knotbook PYTHONUNBUFFERED=1
EXPOSE 8000
