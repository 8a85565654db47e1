# Ce qu’il en est maintenant du site et de ses lieux.


## now

now-fine = Tout va bien
now-need =
    { $count ->
        [one] { $count } lieu a besoin de vous
       *[other] { $count } lieux ont besoin de vous
    }
now-beyond =
    { $count ->
        [one] { $count } lieu hors d’une limite
       *[other] { $count } lieux hors d’une limite
    }
now-unknown =
    { $count ->
        [one] { $count } lieu inconnu
       *[other] { $count } lieux inconnus
    }
now-unguarded =
    { $count ->
        [one] { $count } lieu pas surveillé
       *[other] { $count } lieux pas surveillés
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
now-board_aside = Sa carte est mise de côté, donc rien n’est mesuré ici.
now-board_aside_do = Aller voir vous-même le lieu jusque-là.
now-never_heard = Aucun capteur de ce lieu n’a jamais été reçu.
now-never_heard_do = Regarder la carte qui devrait s’y trouver. La partie Cartes montre ce qui a été reçu.
now-unheard = Pas encore reçue : { $boards }. Rien ne surveille ce lieu.
now-unheard_do = Accrocher sa carte et lui donner du courant. D’ici à ce qu’elle soit reçue, vérifier le lieu soi-même.
now-unwatched = Ses capteurs ne mesurent que ce qu’aucune alarme ne surveille : { $quantities }. Rien ne le garde.
now-unwatched_do = Y accrocher un capteur qui mesure ce qui est surveillé ; `rearing-monitor check` dit quoi.
now-last_heard = Pas de mesure utilisable ; la dernière date de { $at }.
now-last_heard_do = Aller voir le lieu. Puis regarder { $nodes } : alimentation, câble, réseau.
now-fine_places =
    { $count ->
        [one] { $count } lieu va bien
       *[other] { $count } lieux vont bien
    }
## what is not guarded, and who said so

unguarded-empty = Pas d’animaux dedans, dit { $who }, { $at }.
unguarded-file = Pas d’animaux dedans, dit farm.toml (empty = true).
unguarded-aside = Mis de côté jusqu’à { $until }, dit { $who }, { $at }.
unguarded-no_rule = Les réglages n’ont aucune alarme pour lui.
unguarded-note = Raison : { $note }.
unguarded-undo = Pour annuler : { $command }
unguarded-undo_file = Pour annuler : enlever empty = true de farm.toml.
unguarded-undo_no_rule = Pour annuler : enlever remove = true de [[rules]] dans farm.toml.
unguarded-shelved = Pas surveillé pour { $quantity } ({ $value }, limite { $limit }) : mis de côté jusqu’à { $until }.
unguarded-out_of_service = Pas surveillé pour { $quantity } ({ $value }, limite { $limit }) : mis hors service.
unguarded-removed = Pas surveillé pour { $quantity } ({ $value }, limite { $limit }) : les réglages enlèvent cette alarme.
unguarded-board = Pas mesuré par la carte { $board } jusqu’à { $until } : mise de côté, dit { $who }.
unguarded-unheard = Pas mesuré par la carte { $board } : pas encore reçue. L’accrocher et lui donner du courant, ou l’ôter des réglages.
unguarded-to_alarms = La remettre en service
unguarded-to_board = Remettre la carte { $board }
unguarded-to_unheard = Voir la carte { $board }
unguarded-board_in_use = L’écouter de nouveau
unguarded-asks = Le journal n’y nomme plus d’animaux ; la surveillance continue. Est-il vide ?
unguarded-answers = Si oui : { $empty }. S’il y a encore des animaux : { $in_use }

now-no_places = Les réglages ne nomment encore aucun lieu, donc rien n’est surveillé.

## place

place-in_room = dans { $room }
place-to_bin = Au bac
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
now-carried = Lots et bacs ne font plus qu’un journal. Ce qui y a été trouvé :
now-aside = alarme sur { $quantity } : { $state }
health-looked_at = période : { $length }

## guard and doubts

guard-guarded = surveillé
doubt-lived_in = { $place } : d’après le journal, des animaux y vivent.
doubt-alarm = { $place } : une alarme est active : { $value }.
doubt-warm = { $place } : son substrat est de { $value } plus chaud que l’air de la salle, comme là où vivent des animaux.
doubt-moist = { $place } : son substrat contient { $value } d’eau, comme un bac où vivent des animaux.
doubt-ask = Est-ce tout de même vide, sans plus aucune alarme ? o/N
guard-heading = Surveillance
guard-empty_do = C’est vide : ne plus surveiller
guard-in_use_do = Il y a des animaux
guard-still_do = Il y a encore des animaux
guard-aside = Mettre de côté pour nettoyer
guard-aside_explained = Aucune alarme n’en vient pendant ce temps. Ensuite la surveillance reprend d’elle-même.
guard-aside_do = Mettre de côté
guard-empty_explained = À dire quand il n’y a pas d’animaux : aucune alarme n’en vient jusqu’à ce que quelqu’un dise qu’il y en a.
guard-aside_over = Ceci aurait été mis de côté jusqu’à { $at }, ce qui est passé. Rien n’a été écrit.
guard-in_use_since = { $who } a dit { $at } qu’il sert, après que vous l’avez mis de côté sur votre téléphone. Rien n’a été changé.
guard-minutes_wrong = Ce n’est pas une durée pour mettre un lieu de côté ; en choisir une de celles proposées.
guard-sure = Est-ce que { $place } est vide ?
guard-odd = Quelque chose s’y oppose
guard-sure_explained = S’il y a des animaux, personne n’est averti quand il fait trop chaud ou trop sec.
guard-empty_all_the_same = C’est tout de même vide : ne plus surveiller
guard-question = Une question
