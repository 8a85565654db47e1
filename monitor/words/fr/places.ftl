# Ce qu’il en est maintenant du site et de ses lieux.


## now

now-fine = Tout va bien
now-need =
    { $count ->
        [one] { $count } lieu a besoin de vous
       *[other] { $count } lieux ont besoin de vous
    }
now-unknown =
    { $count ->
        [one] { $count } lieu inconnu
       *[other] { $count } lieux inconnus
    }
now-boards =
    { $count ->
        [one] { $count } alarme d’une carte ou du moniteur
       *[other] { $count } alarmes de cartes ou du moniteur
    }
now-boards_heading = Les cartes et le moniteur lui-même
now-stopped = Le moniteur ne tourne pas
now-stopped_since = Son dernier signe de vie date de { $at }. Personne n’est averti, et ce qui suit est ancien.
now-stopped_never = Il n’a jamais tourné. Personne n’est averti.
now-stopped_do = Le démarrer sur son ordinateur : rearing-monitor run, ou le gestionnaire de services.
now-never_heard = Aucun capteur de ce lieu n’a jamais été reçu.
now-never_heard_do = Regarder la carte qui devrait s’y trouver. La partie Cartes montre ce qui a été reçu.
now-last_heard = Pas de mesure utilisable ; la dernière date de { $at }.
now-last_heard_do = Aller voir le lieu. Puis regarder { $nodes } : alimentation, câble, réseau.
now-fine_places =
    { $count ->
        [one] { $count } lieu va bien
       *[other] { $count } lieux vont bien
    }
now-no_places = Les réglages ne nomment encore aucun lieu, donc rien n’est surveillé.

## place

place-in_room = dans { $room }
place-spans = Durée
place-figures = Les chiffres
place-when = Quand
place-low = Le plus bas
place-mean = Moyenne
place-high = Le plus haut
place-no_sensor = Aucun capteur de ce lieu n’a encore rien envoyé.
place-happened = Ce qui s’est passé ici

## now en ligne de commande

now-line = { $title }, { $at } : { $verdict }
now-place = { $title } : { $state }
now-aside = alarme sur { $quantity } : { $state }
health-looked_at = période : { $length }
