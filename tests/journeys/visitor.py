"""Somebody with a browser's manners: cookies, forms with their token, JSON."""

import json
import re
from http.cookiejar import CookieJar
from urllib.parse import urlencode
from urllib.request import HTTPCookieProcessor, Request, build_opener


class Visitor:
    """One person, or nobody, at the service's address."""

    def __init__(self, address):
        self.address = address
        self.cookies = CookieJar()
        self.opener = build_opener(HTTPCookieProcessor(self.cookies))

    def read(self, path):
        with self.opener.open(self.address + path, timeout=30) as answer:
            return answer.read().decode()

    def ask(self, path):
        return json.loads(self.read(path))

    def tell(self, path, **body):
        token = next(cookie.value for cookie in self.cookies if cookie.name == "csrftoken")
        request = Request(
            self.address + path,
            json.dumps(body).encode(),
            {"Content-Type": "application/json", "X-CSRFToken": token, "Referer": self.address},
        )
        with self.opener.open(request, timeout=60) as answer:
            return json.loads(answer.read() or "null")

    def sign_in(self, email, password):
        page = self.read("/sign-in/")
        token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page).group(1)
        form = urlencode({"login": email, "password": password, "csrfmiddlewaretoken": token}).encode()
        request = Request(self.address + "/sign-in/", form, {"Referer": self.address + "/sign-in/"})
        with self.opener.open(request, timeout=30) as answer:
            assert "/sign-in/" not in answer.url, "the sign-in was refused"
        return self
