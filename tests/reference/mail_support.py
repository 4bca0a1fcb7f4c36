"""What mail clients support, from published tests of HTML and CSS in them.

`mail-support.json` is cut from the npm package caniemail 2.0.2 (MIT licence: mail-support-LICENSE.txt), which holds the
data of caniemail.com. For each feature a letter a client of `CLIENTS`, in their order: y yes, a partly, n no, u or ?
unknown; the newest version of the client that was tested. To make it anew from a newer package:

    python -m tests.reference.mail_support data/caniemail.json
"""

import json
import sys
from pathlib import Path

FILE = Path(__file__).with_name("mail-support.json")

#: The clients that most people read mail in (ours; the data has more, many of one country).
CLIENTS = (
    ("apple-mail", "ios"),
    ("apple-mail", "macos"),
    ("gmail", "android"),
    ("gmail", "desktop-webmail"),
    ("gmail", "ios"),
    ("outlook", "android"),
    ("outlook", "ios"),
    ("outlook", "macos"),
    ("outlook", "outlook-com"),
    ("outlook", "windows"),
    ("samsung-email", "android"),
    ("thunderbird", "macos"),
    ("yahoo", "desktop-webmail"),
)


def support() -> dict[str, str]:
    """A letter a client for each feature."""
    found: dict[str, str] = json.loads(FILE.read_text("utf-8"))["features"]
    return found


def main(source: Path) -> None:
    """The file is cut from the package's."""
    data = json.loads(source.read_text("utf-8"))
    features = {
        feature["slug"]: "".join(
            _newest(feature["stats"].get(family, {}).get(platform, {})) for family, platform in CLIENTS
        )
        for feature in data["data"]
    }
    kept = {
        "updated": data["last_update_date"],
        "clients": [" ".join(one) for one in CLIENTS],
        "features": features,
    }
    FILE.write_text(json.dumps(kept, indent=1) + "\n", "utf-8")


def _newest(versions: dict[str, str]) -> str:
    return list(versions.values())[-1][0] if versions else "?"


if __name__ == "__main__":
    main(Path(sys.argv[1]))
