# Les mots de la page en français. Un mot entre {accolades} est mis par le programme : le laisser tel quel.


## format

format-list = { ", " }
format-quoted = « { $text } »
format-colon = { " :" }
format-clauses = { " ; " }

## length

length-moment = moins d’une minute
length-minutes = { $count } min
length-hours = { $count } h
length-ago = { $at } (il y a { $length })
length-weeks =
    { $count ->
        [one] { $count } semaine
       *[other] { $count } semaines
    }
length-years =
    { $count ->
        [one] { $count } an
       *[other] { $count } ans
    }
length-days =
    { $count ->
        [one] { $count } jour
       *[other] { $count } jours
    }

## unit

unit-RH = %
unit-min = min
unit-h = h

## value

value-none = pas de valeur
value-span = { $low } à { $high }
value-doubtful = douteux
value-index = Indice de la sonde
value-no_moisture = un indice, pas une humidité
value-not_since = rien reçu depuis { $at }
value-broken = le capteur montre l’impossible

## base

base-skip = Au contenu
base-parts = Parties de la page
base-more = Plus
base-invented = Démonstration

## part

part-now = État
part-night = Nuit
part-alarms = Alarmes
part-nodes = Cartes
part-me = Vous

## role

role-visitor = visiteur
role-helper = aide
role-owner = propriétaire

## state

state-high = Agir maintenant
state-medium = Agir bientôt
state-low = À surveiller
state-beyond = Hors d’une limite
state-unknown = Inconnu
state-unguarded = Pas surveillé
state-fine = Bien
state-empty = Vide
state-over = Terminé
state-shelved = Mis de côté
state-out_of_service = Hors service
state-normal = Revenu à la normale

## kind

kind-room = Salle
kind-love_cage = Cage de ponte
kind-hatching_tray = Plateau d’éclosion
kind-grow_out_bin = Bac d’élevage
kind-pupation_box = Caisse de nymphose

## quantity

quantity-air_temperature = Température de l’air
quantity-air_humidity = Humidité de l’air
quantity-substrate_temperature = Température du substrat
quantity-substrate_moisture = Teneur en eau du substrat
quantity-surface_temperature = Température de surface
quantity-light = Lumière
quantity-battery = Pile
quantity-carbon_dioxide = Dioxyde de carbone
quantity-ammonia = Ammoniac
quantity-vapour_pressure_deficit = Pouvoir desséchant de l’air
quantity-dew_point = Point de rosée
quantity-substrate_excess = Substrat au-dessus de l’air de sa salle
quantity-condensation_margin = Marge avant condensation
quantity-minutes_to_overheating = Temps avant surchauffe
quantity-hours_to_dry = Temps avant dessèchement
quantity-silent_minutes = Silence
quantity-dead_sensor_minutes = Temps sans bonne mesure
quantity-silent_node_share = Part de cartes muettes
quantity-unheard_nodes = Cartes pas encore reçues
quantity-store_fault = Panne de la base de données
quantity-broker_way_fault = Passage par le courtier
quantity-archive_lag_hours = Retard de l’archive
quantity-copy_age_hours = Âge de la dernière bonne copie
quantity-copy_behind_hours = Plus longue attente d’un endroit pour une copie
quantity-unsent_message_minutes = Âge du plus ancien message non envoyé

## short

short-air_temperature = Air
short-air_humidity = Humidité
short-substrate_temperature = Substrat
short-substrate_moisture = Eau
short-surface_temperature = Surface
short-light = Lumière

## way

way-rising = en hausse
way-falling = en baisse
way-steady = stable

## asked

command-done = C’est fait.
command-waiting = Demandé. Le moniteur n’a pas encore répondu ; regardez de nouveau dans un instant.
command-refused = Pas fait : { $why }
command-not_on_disk = Ce n’est pas encore sur le disque : la base ne prend rien en ce moment, et un redémarrage l’oublierait.

## span

span-24h = 24 heures
span-7d = 7 jours
span-30d = 30 jours
span-year = Un an

## chart

chart-nothing = Pas de mesures pendant ce temps.
chart-lowest = Le plus bas { $value }, { $at }.
chart-highest = Le plus haut { $value }, { $at }.
chart-safe = Bien de { $low } à { $high }.
chart-safe_above = Bien au-dessus de { $low }.
chart-safe_below = Bien sous { $high }.

## key

key-safe = bonne plage
key-night = nuit
key-mark = alarme survenue

## journal

journal-by = par { $who }
journal-nothing = Encore rien.

## login

login-heading = Se connecter
login-name = Votre nom
login-name_explained = Il figure à côté de ce que vous signalez et écrivez.
login-password = Mot de passe
login-do = Se connecter
login-wrong = Ce n’est pas le mot de passe.
login-too_often = Trop de mots de passe faux. Réessayer dans { $length }.

## me

me-who = Vous êtes connecté en tant que { $name } ({ $role }).
me-who_unnamed = Vous êtes connecté en tant que { $role }.
me-preferences = Comment vous voulez la page
me-language = Langue
me-language_unread = { $language } : aucune personne de cette langue ne l’a encore relu. Dites ce qui sonne faux.
me-language_wrong = Choisir une des langues proposées.
me-unit = Températures en
me-keep = Garder
me-helpers = Aides
me-helpers_explained = Une aide voit tout, signale et note, mais ne change aucun réglage.
me-helpers_on = Les aides peuvent se connecter.
me-helpers_off = Les aides ne peuvent pas encore se connecter.
me-helpers_password = Nouveau mot de passe des aides (vide : aucune ne peut se connecter)
me-helpers_keep = Changer
me-password_short = Un mot de passe a besoin d’au moins { $least } caractères.
me-password_guessed = Ce mot de passe est de ceux que l’on essaie d’abord. Prendre quatre mots sans rapport entre eux.
me-password_own = Donner aux aides un autre mot de passe que le sien : qui l’a est le propriétaire.
me-out = Quitter
me-end_heading = Un téléphone est perdu
me-end_explained = Toutes les sessions sous un nom se terminent, sur chaque téléphone et ordinateur ; ce qui attend sur un tel téléphone ne peut pas être remis. Qui connaît le mot de passe peut se reconnecter : en donner un nouveau aussi.
me-end_name = Le nom
me-end_do = Terminer toutes les sessions de cette personne
me-end_whose = Dire de qui les sessions doivent se terminer.
me-ended = Toutes les sessions de { $who } sont terminées.
me-log_out = Se déconnecter
me-phone = Cette page sur un téléphone : code QR et étapes
me-invite = Le téléphone d’un aide
me-invite_explained = Un lien qui connecte un téléphone comme aide, une fois, sans mot de passe.
me-invite_do = Faire un lien
me-invite_copy = Copier le lien
me-invite_copied = Copié

## link

link-not_valid = Ce lien n’est plus valable : il a servi, ou il a expiré. Connectez-vous pour voir l’état actuel.
link-no_alarm = L’alarme de ce lien n’est plus dans les réglages.
link-nothing_to_do = Il n’y a rien à signaler : elle a été vue, ou elle est terminée, ou elle est revenue depuis.
link-to_page = Vers la page

## once

once-heading = De votre téléphone
once-changed = Ce formulaire a déjà été remis, { $at }, avec d’autres valeurs. Ce qui a été écrit alors reste ; ceci n’a pas été écrit. Si c’est une inscription de plus, ouvrir le formulaire à nouveau.
once-see = Voir ce qui a été écrit
once-phone_clock = L’horloge de votre téléphone et celle du moniteur diffèrent de plus d’un jour. Selon l’horloge du moniteur, ceci a été fait { $at }. Est-ce juste ?
once-waited_long = Ceci a attendu très longtemps sur votre téléphone : fait { $at }. Regarder dans le journal si cela y est déjà. L’écrire ?
once-clock_set = L’horloge de votre téléphone a été réglée pendant que ceci attendait. Pour autant qu’on sache, ceci a été fait { $at }. Est-ce juste ?

## phone

phone-waiting = En attente sur ce téléphone
phone-gone = Pas de connexion. Ce que vous voyez date de { $age }.
phone-count = En attente sur ce téléphone : { $count }.
phone-of = De { $who }, { $at }
phone-log_in = Remis quand { $who } se connecte.
phone-asks = Une question attend.
phone-kept = Gardé sur ce téléphone, remis quand la connexion revient : { $what }
phone-not_sent = Pas de connexion : rien n’a été envoyé. Ce que vous avez saisi est toujours là ; réessayer.
phone-no_page = Pas de connexion : cette page ne peut pas s’ouvrir maintenant. Celle-ci continue.
phone-answer = Répondre
phone-edit = Modifier
phone-delete = Supprimer
phone-sure = Supprimer ce qui attend ? { $what }
phone-leave = Pas encore remis : { $count }. Cela reste sur ce téléphone jusqu’à votre prochaine connexion ici. Se déconnecter quand même ?
phone-back = La connexion est revenue. Ce que vous voyez date encore de { $age }.
phone-keeps_nothing = Ce navigateur ne garde rien (fenêtre privée, ou plus de place) : sans connexion, rien ne peut être noté ici.
phone-twice = La même chose attend déjà, de { $at }. La garder une fois de plus ?
phone-maybe = C’est peut-être déjà arrivé : regarder dans le journal.
phone-no_answer = Aucune réponse : c’est peut-être arrivé. Renvoyer, ce n’est écrit qu’une fois.

## problem

problem-heading = Cela n’a pas marché
problem-elsewhere = Ce formulaire ne vient pas de cette page, donc rien n’a été fait. Ouvrir la page elle-même et réessayer.
problem-form = Ce formulaire est trop ancien ou ne vient pas de cette page, donc rien n’a été fait. Revenir en arrière, recharger la page et réessayer.
problem-owner = Seul le propriétaire peut faire cela. Rien n’a été changé.
owner-only_place = Le propriétaire peut mettre cet endroit de côté et dire qu’il est vide.
owner-only_alarm = Le propriétaire peut mettre de côté des lieux et des alarmes pour un temps, et les remettre : pendant ce temps, personne n’en est prévenu.
owner-only_me = Le propriétaire peut donner un mot de passe aux aides et finir les sessions d’une personne.
problem-usage = Cela ne peut pas se faire.
problem-store = La base de données n’est pas utilisable pour l’instant. Le moniteur continue de mémoire ; lancer rearing-monitor check sur son ordinateur.
problem-not_here = Cette page n’existe pas.
problem-not_so = Cette page ne peut pas être demandée ainsi.
problem-back = Au début

## reach

reach-heading = Cette page sur un téléphone
reach-own = À l’adresse chiffrée, la page peut être installée, et les pages déjà vues s’ouvrent sans connexion. Pour cela, le téléphone doit connaître une fois pour toutes le certificat propre à la ferme (CA). À faire dans le Wi-Fi de la ferme.
reach-get_ca = 1. Le certificat de la ferme
reach-ca_file = Télécharger le certificat
reach-fingerprint = Son empreinte SHA-256, telle que `rearing-monitor page setup` la montre aussi :
reach-ca_caution = Avec lui, le téléphone croit tout ce dont l’ordinateur de cette ferme se porte garant. Ne l’installer que depuis sa propre ferme, et le retirer d’un téléphone qui quitte la ferme.
reach-android = Sur Android
reach-android_1 = Toucher « Télécharger le certificat » ci-dessus. Si le téléphone propose aussitôt de l’installer, continuer à l’étape 3.
reach-android_2 = Ouvrir Paramètres, chercher « certificat CA » et le choisir (souvent sous Sécurité, Chiffrement et identifiants, Installer un certificat).
reach-android_3 = Toucher « Installer quand même » et choisir le fichier farm-ca.crt parmi les téléchargements. Un téléphone sans verrouillage d’écran en demande un.
reach-iphone = Sur iPhone et iPad
reach-iphone_1 = Dans Safari, toucher « Télécharger le certificat » ci-dessus et autoriser le téléchargement d’un profil.
reach-iphone_2 = Ouvrir Réglages, toucher « Profil téléchargé » (ou Général, VPN et gestion de l’appareil), puis Installer.
reach-iphone_3 = Ouvrir Réglages, Général, Informations, Réglages des certificats, et activer le certificat de la ferme.
reach-untried = Ces étapes sont écrites de mémoire ; personne ne les a encore essayées sur un téléphone avec ce programme. Les noms dans les réglages diffèrent d’un téléphone à l’autre.
reach-then = 2. Ouvrir la page chiffrée
reach-install = L’installer
reach-install_android = Android, dans Chrome : menu (trois points), puis « Ajouter à l’écran d’accueil » ou « Installer l’application ».
reach-install_iphone = iPhone et iPad, dans Safari : Partager, puis « Sur l’écran d’accueil ».
reach-plain = Cette adresse n’est pas chiffrée : la page marche et garde ce qui est écrit tant qu’elle est ouverte, mais les navigateurs ne la laissent ni installer ni ouvrir sans connexion. Le propriétaire change cela par `rearing-monitor page setup` sur l’ordinateur de la ferme.
reach-another = Un autre téléphone
reach-scan_start = Pour un téléphone qui n’a pas encore le certificat, ceci ouvre ces étapes. Y diriger son appareil photo :
reach-scan_page = Ceci ouvre la page. Y diriger l’appareil photo du téléphone :
reach-qr_start = Code QR de ces étapes
reach-qr_page = Code QR de la page
reach-no_connection = Pas de connexion
reach-not_kept = Cette page n’a pas encore été ouverte sur ce téléphone, elle ne peut donc pas être montrée maintenant. Elle se charge dès que la connexion revient.

## join

join-qr_title = Code QR du lien pour un aide
join-scan = Le téléphone d’un aide ouvre ceci, et l’aide est connecté. Le lien marche une fois, jusqu’à { $until }.
join-secret = Qui l’ouvre le premier devient l’aide. Ne le montrer à personne d’autre.
join-paste = Ou envoyer le lien :
join-heading = Bienvenue
join-explained = Par ce lien, on est connecté comme aide sur ce téléphone. Il marche une fois.
join-do = Commencer
join-name_needed = Dire son nom, pour que les autres voient qui a écrit quoi.
join-not_valid = Ce lien est fini : il a servi, il est trop vieux, ou il n’est pas entier. En demander un nouveau au propriétaire.

push-acknowledged = C’est noté : vous l’avez vu.
push-not_acknowledged = Impossible de noter que vous l’avez vu : la page de la ferme ne répond pas d’ici. L’alarme attend toujours.
push-more = La suite est sur la page.
push-heading = Messages sur ce téléphone
push-explained = Les alarmes et le rapport de la nuit arrivent sur l’écran de ce téléphone, même quand la page est fermée. Un toucher ouvre le lieu.
push-never_alone = Ils passent par internet et par le service du fabricant du téléphone : sans internet à la ferme ou sur le téléphone, rien n’arrive. Ne jamais compter sur eux seuls ; garder une autre voie, et la sirène dans l’étable.
push-needs_https = Cette adresse n’est pas chiffrée, et les navigateurs ne laissent recevoir des messages qu’à une page chiffrée. Le propriétaire change cela sur l’ordinateur de la ferme par `rearing-monitor page setup` ; ouvrir ensuite l’adresse chiffrée sur ce téléphone.
push-needs_library = Le programme qui chiffre ces messages n’est pas installé sur l’ordinateur de la ferme. Le propriétaire l’installe par `{ $command }` et redémarre le moniteur.
push-needs_people = Les réglages ne nomment personne à prévenir. Le propriétaire ajoute une table [[recipients]] avec un nom et une adresse à farm.toml ; `{ $address }` est cette page seule.
push-needs_scripts = Cela demande des scripts, et ils sont désactivés dans ce navigateur.
push-for_whom = Messages pour
push-turn_on = Activer les messages sur ce téléphone
push-turned_on = Activé. Envoyer un essai ci-dessous, et voir s’il arrive.
push-turned_off = Désactivé : ce téléphone ne reçoit plus de messages.
push-this_phone = Ce téléphone : les messages sont activés. Se déconnecter y met fin.
push-again = La ferme ne connaît plus ce téléphone. Réactiver les messages.
push-cannot = Ce navigateur ne peut pas recevoir de messages.
push-iphone = Sur iPhone ou iPad, mettre d’abord la page sur l’écran d’accueil (Partager, puis « Sur l’écran d’accueil ») et l’ouvrir de là.
push-denied = Ce navigateur a reçu l’ordre de ne montrer aucun message de cette page. Autoriser les notifications dans les réglages du navigateur ou du téléphone, puis rouvrir cette page.
push-no_service = Le service du fabricant du téléphone ne répond pas. Voir si ce téléphone a internet, et réessayer.
push-people = Qui est prévenu, et comment
push-by_address = par l’adresse des réglages ({ $kind })
push-alone = { $name } n’est prévenu que par des téléphones avec cette page. Sans internet rien n’arrive, et quand les données du navigateur sont effacées, cela finit sans un mot. Donner aussi une autre voie à { $name } dans farm.toml.
push-alone_without = Aucun téléphone ne reçoit encore de messages pour { $name }, qui n’est donc prévenu de rien.
push-gone = { $device } : ne reçoit plus de messages ({ $at }). Les réactiver dessus.
push-device_android = Téléphone Android
push-device_iphone = iPhone ou iPad
push-device_computer = Ordinateur
push-since = depuis : { $at }
push-turned_on_by = activé par { $name }
push-last = dernier message : { $at }
push-test = Envoyer un essai
push-end = Mettre fin aux messages ici
push-whose = Dire de qui ce téléphone doit recevoir les messages.
push-too_many = Trop de téléphones reçoivent déjà des messages. Mettre fin à ceux qui ne servent plus.
push-unknown = Ce téléphone ne reçoit plus de messages.
push-not_yours = Seul le propriétaire, ou qui a activé les messages là, peut faire cela.
push-phones =
    { $count ->
        [one] { $count } téléphone
       *[other] { $count } téléphones
    }
push-failures =
    { $count ->
        [one] { $count } message non pris depuis
       *[other] { $count } messages non pris depuis
    }
