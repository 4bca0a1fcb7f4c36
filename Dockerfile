# The image of the web server, the worker and the ticker: the same one, with another command.
# Holds what requirements.txt locks and the application; nothing from the development tools.

FROM python:3.12-slim AS build
COPY requirements.txt /tmp/requirements.txt
RUN python -m venv /opt/ballast && \
    /opt/ballast/bin/pip install --no-cache-dir --require-hashes --only-binary :all: --requirement /tmp/requirements.txt

FROM python:3.12-slim
RUN useradd --system --uid 10001 --home-dir /var/lib/ballast --create-home ballast
COPY --from=build /opt/ballast /opt/ballast
WORKDIR /srv/ballast
COPY manage.py ./
COPY athletes athletes/
COPY coaching coaching/
COPY programs programs/
COPY templates templates/
COPY fixtures fixtures/
COPY locale locale/
ENV PATH=/opt/ballast/bin:$PATH \
    PYTHONUNBUFFERED=1 \
    PYTHONDONTWRITEBYTECODE=1 \
    DJANGO_SETTINGS_MODULE=coaching.settings \
    BALLAST_STATE=/var/lib/ballast \
    STATIC_ROOT=/srv/ballast/staticfiles
# The key is for this one command: collecting reads the settings, and signs nothing.
RUN SECRET_KEY=collecting-static-files-signs-nothing python manage.py collectstatic --noinput
USER ballast
# What the worker notes before and after each delivery; a volume keeps it across containers.
VOLUME /var/lib/ballast
EXPOSE 8000
STOPSIGNAL SIGTERM
# No access log: a rider's link must not stand in one.
CMD ["granian", "--interface", "wsgi", "--host", "0.0.0.0", "--port", "8000", "--http", "1", "--no-ws", \
     "--workers", "2", "--blocking-threads", "8", "--backpressure", "128", "--respawn-failed-workers", \
     "--workers-kill-timeout", "10s", "coaching.wsgi:application"]
