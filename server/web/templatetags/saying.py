"""`{{ text|said }}`: what comes from below the pages, in the language of the page."""

from django import template

from server.web.saying import group_name, localised, said

register = template.Library()
register.filter("said", said)
register.filter("group_name", group_name)
register.filter("localised", lambda text: localised(str(text)))
